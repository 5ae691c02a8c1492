"""Pages of a book drawn while it is being planned, from a part of its tunes where it is large.

Engraved tunes are kept (docs/book.md), so most of a book is there; of those that are not, a few are
engraved for a preview, that of the tune that is looked at first.

Public: `Shown`, `shown`, `MOST_SHOWN`, `MOST_ANEW`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

from reedwright.pack.book.fingerprint import key_of
from reedwright.pack.book.making import content_of, made_all
from reedwright.pack.book.model import BookPlan, PlannedTune
from reedwright.pack.book.stock import Stock, stock_folder
from reedwright.page.book.model import BookContent
from reedwright.page.book.preview import BookPictures, Place, book_pictures
from reedwright.page.preview import png_size
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ShelfError
from reedwright.web.book.asked import PreviewAsked
from reedwright.web.book.planning import number_of, planned
from reedwright.web.remembering import Remembered

MOST_SHOWN = 30  # tunes in a preview: more would take too long to draw
MOST_ANEW = 3  # of them engraved for it
REMEMBERED = 6  # previews, of about a megabyte each


@dataclass(frozen=True, slots=True)
class Shown:
    """`png`: the page, the `page`th of those drawn. `places`: where what is. `notices`: what the
    plan names and is not found, and what the preview leaves out. `tunes`: how many are drawn."""

    png: bytes
    page: int
    pages: int
    places: tuple[Place, ...]
    notices: tuple[str, ...]
    tunes: int

    @property
    def size(self) -> tuple[int, int]:
        return png_size(self.png)

    @property
    def here(self) -> str:
        """What the page shows."""
        titles = [place.title for place in self.places if place.page == self.page]
        before = [place.title for place in self.places if place.page < self.page]
        return ", ".join(titles) or (f"{before[-1]}, continued" if before else "")


def shown(shelf: Shelf, asked: PreviewAsked) -> Shown:
    """Raises `ShelfError` for a book without tunes, and as `planned` and engraving do."""
    plan, notices = planned(shelf, asked.book)
    if not plan.tunes:
        raise ShelfError("There are no tunes in the book yet. Add some.")
    told = list(notices)
    if plan.fewest is not None:
        plan = replace(plan, fewest=None)
        told.append("Here each tune is on its own best harp; the fewest are found as it is made.")
    stock = Stock(stock_folder())
    some = _some(plan, stock, asked.tune)
    made, left_out, _ = made_all(some, stock, lambda share, doing: None, workers=0)
    told += [f"{each.title}: {each.reason}" for each in left_out]
    if not made:
        raise ShelfError("None of the tunes can be engraved. " + " ".join(told))
    if len(some.tunes) < len(plan.tunes):
        told.append(f"Drawn with {len(some.tunes)} of the {len(plan.tunes)} tunes.")
    content = content_of(some, made)
    pictures = _drawn(content, some)
    page = _page(asked, some.tunes, pictures)
    return Shown(
        pictures.pages[page - 1],
        page,
        len(pictures.pages),
        pictures.places,
        tuple(told),
        len(made),
    )


def _some(plan: BookPlan, stock: Stock, first: int | None) -> BookPlan:
    """With as many of its tunes as a preview has."""
    look = replace(plan.look, bleed=0.0, crop_marks=False, two_sided=True)
    chosen: set[str] = set()
    anew = 0
    by_need = sorted(plan.tunes, key=lambda tune: number_of(tune.tune) != first)
    for tune in by_need:
        if len(chosen) == MOST_SHOWN:
            break
        there = stock.get(key_of(tune, look)) is not None
        if there or anew < MOST_ANEW:
            anew += not there
            chosen.add(tune.name)
    chapters = tuple(
        replace(chapter, tunes=tuple(tune for tune in chapter.tunes if tune.name in chosen))
        for chapter in plan.chapters
    )
    return replace(plan, chapters=chapters)


def _page(asked: PreviewAsked, tunes: Sequence[PlannedTune], pictures: BookPictures) -> int:
    """Which of the drawn pages is wanted; the first where there is no such."""
    last = len(pictures.pages)
    if asked.page is not None:
        return min(asked.page, last)
    name = next((each.name for each in tunes if number_of(each.tune) == asked.tune), None)
    for place in pictures.places:
        if (name and place.name == name) or (not name and place.title == asked.at):
            return min(max(1, place.page), last)
    return 1


_before: Remembered[BookPictures] = Remembered(REMEMBERED)


def _drawn(content: BookContent, plan: BookPlan) -> BookPictures:
    """Leafing through the same book draws nothing anew."""
    made_from = json.dumps([asdict(content), asdict(plan.look)], sort_keys=True, default=str)
    return _before.get(made_from, lambda: book_pictures(content, plan.look))
