"""Pages of a book drawn while it is being planned, from a part of its tunes where it is large.

Engraved tunes are kept (docs/book.md), so most of a book is there. Of those that are not, a preview
engraves only the one that is looked at; the rest come a few at a time, while the reader looks.

Public: `Shown`, `shown`, `engraved_more`, `MOST_SHOWN`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

from reedwright.pack.book.fingerprint import key_of
from reedwright.pack.book.made import MadeTune
from reedwright.pack.book.making import content_of, made_all
from reedwright.pack.book.model import BookPlan, PlannedTune
from reedwright.pack.book.stock import Stock, stock_folder
from reedwright.page.book.model import BookContent
from reedwright.page.book.preview import BookPictures, Place, book_pictures
from reedwright.page.preview import png_size
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ShelfError
from reedwright.web.book.asked import BookAsked, ChapterPart, PreviewAsked, TunePart
from reedwright.web.book.planning import number_of, planned
from reedwright.web.remembering import Remembered

MOST_SHOWN = 20  # tunes in a preview: more would take too long to draw
AT_ONCE = 3  # tunes engraved while the reader looks, of a fourth of a second each
REMEMBERED = 6  # previews, of about a megabyte each


@dataclass(frozen=True, slots=True)
class Shown:
    """`png`: the page, the `page`th of those drawn. `places`: where what is. `notices`: what the
    plan names and is not found, and what the preview leaves out. `to_come`: tunes that could be in
    it and are not engraved yet."""

    png: bytes
    page: int
    pages: int
    places: tuple[Place, ...]
    notices: tuple[str, ...]
    to_come: int

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
    plan, notices = planned(shelf, _beginning(asked.book, asked.tune))
    if not plan.tunes:
        raise ShelfError("There are no tunes in the book yet. Add some.")
    told = list(notices)
    if plan.fewest is not None:
        plan = replace(plan, fewest=None)
        told.append("Here each tune is on its own best harp; the fewest are found as it is made.")
    stock = Stock(stock_folder())
    there = _there(plan, stock)
    made = _made(plan, _chosen(plan, there, asked.tune, 1), stock, told)
    if not made:
        made = _made(plan, _chosen(plan, there, asked.tune, AT_ONCE), stock, told)
    if not made:
        raise ShelfError("The tunes can't be engraved. " + " ".join(told))
    if len(made) < len(asked.book.tunes):
        told.append(f"Drawn with {len(made)} of the {len(asked.book.tunes)} tunes.")
    pictures = _drawn(content_of(plan, made), plan)
    page = _page(asked, plan.tunes, pictures)
    return Shown(
        pictures.pages[page - 1],
        page,
        len(pictures.pages),
        pictures.places,
        tuple(dict.fromkeys(told)),
        len([tune for tune in plan.tunes if tune.name not in there | set(made)]),
    )


def engraved_more(shelf: Shelf, asked: BookAsked) -> int:
    """Engrave some more of the tunes that a preview has room for; how many are left."""
    plan, _ = planned(shelf, _beginning(asked, None))
    stock = Stock(stock_folder())
    there = _there(plan, stock)
    missing = [tune.name for tune in plan.tunes if tune.name not in there]
    made = _made(plan, set(missing[:AT_ONCE]), stock, [])
    return len(missing) - len(made)


def _beginning(asked: BookAsked, first: int | None) -> BookAsked:
    """The book with as many tunes as a preview has room for, the one that is looked at among them:
    large books are not read whole for each change."""
    room = MOST_SHOWN - (first is not None)
    parts: list[TunePart | ChapterPart] = []
    for part in asked.parts:
        if isinstance(part, TunePart):
            if part.tune == first:
                first = None  # a tune may stand in a book more than once
            elif room:
                room -= 1
            else:
                continue
        parts.append(part)
    return asked.model_copy(update={"parts": parts})


def _there(plan: BookPlan, stock: Stock) -> set[str]:
    """The names of the tunes that are engraved."""
    look = replace(plan.look, bleed=0.0, crop_marks=False, two_sided=True)
    return {tune.name for tune in plan.tunes if stock.get(key_of(tune, look)) is not None}


def _chosen(plan: BookPlan, there: set[str], first: int | None, anew: int) -> set[str]:
    """The names of what a preview draws: what is engraved, and so many that are not; the one that
    is looked at before all others."""
    found: set[str] = set()
    for tune in sorted(plan.tunes, key=lambda tune: number_of(tune.tune) != first):
        looked_at = number_of(tune.tune) == first
        if tune.name in there or (anew and (looked_at or not found or anew > 1)):
            anew -= tune.name not in there
            found.add(tune.name)
    return found


def _made(plan: BookPlan, names: set[str], stock: Stock, told: list[str]) -> dict[str, MadeTune]:
    chapters = tuple(
        replace(chapter, tunes=tuple(tune for tune in chapter.tunes if tune.name in names))
        for chapter in plan.chapters
    )
    some = replace(plan, chapters=chapters)
    made, left_out, _ = made_all(some, stock, lambda share, doing: None, workers=0)
    told += [f"{each.title}: {each.reason}" for each in left_out]
    return made


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
