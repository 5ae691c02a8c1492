"""Lessons given: to whom and of what, in the teacher's own words, and which tunes.

Public: `add_lesson`, `lessons_of`, `tunes_of`, `tunes_gone_from`.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, Role, ShelfError


def add_lesson(
    shelf: Shelf, whom: str, tunes: Sequence[int], words: str = "", on: date | None = None
) -> Item:
    """A lesson to somebody (`whom`: any words, 'Mira', 'Tuesday group'), on a day (today)."""
    called = " ".join(whom.split())
    if not called:
        raise ShelfError("To whom was the lesson? Any words will do, such as 'Tuesday group'.")
    day = (on or date.today()).isoformat()
    with shelf.change():
        lesson = shelf.add(Kind.LESSON, called, Form.TEXT, words, said="given", about={"date": day})
        shelf.link(lesson.id, Role.ON, tunes)
    return lesson


def lessons_of(shelf: Shelf, tune: int) -> tuple[Item, ...]:
    """The lessons that a tune was taught in, as they came."""
    found = (shelf.item(link.item) for link in shelf.linked_to(tune, Role.ON))
    return tuple(item for item in found if item.kind is Kind.LESSON and not item.removed)


def tunes_gone_from(shelf: Shelf, item: int) -> tuple[Item, ...]:
    """The tunes of a lesson or list that were taken off the shelf since."""
    found = (shelf.item(link.to) for link in shelf.links(item, Role.ON))
    return tuple(tune for tune in found if tune.removed)


def tunes_of(shelf: Shelf, item: int) -> tuple[Item, ...]:
    """The tunes of a lesson or list, in order, without those that were taken off the shelf."""
    found = (shelf.item(link.to) for link in shelf.links(item, Role.ON))
    return tuple(tune for tune in found if not tune.removed)
