"""Which tunes stand on which page.

Public: `Part`, `Page`, `body_pages`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from reedwright.page.book.model import BookLook, Chapter, TuneEntry

# What it costs to turn the page inside a tune, in pages: it is worth one more page not to.
TURN = 1.1


class Part(NamedTuple):
    """What a page has of a tune: its place among the book's tunes, how it is set (`alone` or
    `shared`), and which of its sheets, from 0."""

    tune: int
    way: str
    sheet: int


class Page(NamedTuple):
    """A page of the body. `chapter`: its place among the chapters; `opener`: it has the chapter's
    title; neither opener nor parts: blank."""

    chapter: int
    opener: bool = False
    parts: tuple[Part, ...] = ()


def body_pages(chapters: Sequence[Chapter], look: BookLook) -> tuple[Page, ...]:
    """The pages from the first chapter to the last; the first is a right-hand page, number 1.

    Tunes keep their order. Neighbours that are both set for half a page share one where
    `two_to_a_page`; of all ways the one with the fewest pages is taken, where a tune that is set
    over two pages stands on facing ones if that costs no more than one page more.
    """
    pages: list[Page] = []
    first = 0
    for index, chapter in enumerate(chapters):
        if chapter.title or chapter.words:
            if look.two_sided and len(pages) % 2:
                pages.append(Page(index))
            pages.append(Page(index, opener=True))
        pages += _tunes(chapter.tunes, first, index, len(pages) + 1, look)
        first += len(chapter.tunes)
    return tuple(pages)


def _tunes(
    tunes: Sequence[TuneEntry], first: int, chapter: int, start: int, look: BookLook
) -> list[Page]:
    """The pages of a chapter's tunes, of which the first has the number `start`."""
    count = len(tunes)
    sheets = [_sheets(tune) for tune in tunes]
    short = [look.two_to_a_page and bool(tune.page["shared"]) for tune in tunes]
    # best[place][parity]: the least cost from this tune on, and how many tunes the page takes,
    # where its first page is a left-hand one (0) or a right-hand one (1).
    best = [[(0.0, 0), (0.0, 0)] for _ in range(count + 1)]
    for place in range(count - 1, -1, -1):
        for parity in (0, 1):
            pages = sheets[place]
            # Facing pages are a left-hand one and the next: turns lie after right-hand pages.
            turns = (pages - 1 + parity) // 2 if look.two_sided else pages - 1
            unavoidable = (pages - 1) // 2 if look.two_sided else pages - 1
            after = best[place + 1][(parity + pages) % 2][0]
            options = [(pages + TURN * (turns - unavoidable) + after, 1)]
            if place + 1 < count and short[place] and short[place + 1]:
                options.append((1 + best[place + 2][1 - parity][0], 2))
            best[place][parity] = min(options)
    made: list[Page] = []
    place = 0
    while place < count:
        taken = best[place][(start + len(made)) % 2][1]
        if taken == 2:
            both = tuple(Part(first + place + one, "shared", 0) for one in (0, 1))
            made.append(Page(chapter, parts=both))
        else:
            made += [
                Page(chapter, parts=(Part(first + place, "alone", sheet),))
                for sheet in range(sheets[place])
            ]
        place += taken
    return made


def _sheets(tune: TuneEntry) -> int:
    alone: Any = tune.page["alone"]
    return len(alone["sheets"])
