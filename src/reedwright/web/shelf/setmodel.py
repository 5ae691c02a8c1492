"""What the pages of sets send and are told, as JSON.

Public: `ContentSent`, `From`, `SetView`, `TuneFound`, `Told`, `view_of`.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, Field

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item
from reedwright.web.numbers import MOST
from reedwright.web.shelf.lists import Content, ListTune, content_of, kind_of

MOST_TUNES = 2_000
LONGEST_NAME = 200
LONGEST_NOTES = 5_000
LONGEST_WORD = 1_000

Whole = Annotated[int, Field(ge=1, le=MOST)]


class TuneSent(BaseModel):
    id: Whole
    notes: str = Field("", max_length=LONGEST_WORD)


class ContentSent(BaseModel):
    """All that the set is to say; `made_from`: the state that the page has."""

    made_from: Whole
    name: str = Field(max_length=LONGEST_NAME)
    notes: str = Field("", max_length=LONGEST_NOTES)
    tunes: list[TuneSent] = Field(max_length=MOST_TUNES)
    keep_both: bool = False  # made from another state, and to be a state beside it

    def content(self) -> Content:
        tunes = tuple(ListTune(each.id, each.notes) for each in self.tunes)
        return Content(self.name, tunes, self.notes)


class From(BaseModel):
    made_from: Whole


class SetTune(BaseModel):
    id: int
    title: str
    kind: str
    notes: str
    removed: bool


class SetView(BaseModel):
    """A set as it is now. `said`: what its last change was."""

    id: int
    state: int
    name: str
    notes: str
    tunes: list[SetTune]
    said: str
    can_undo: bool
    can_redo: bool


class State(BaseModel):
    state: int


class TuneFound(BaseModel):
    id: int
    title: str
    kind: str


class Told(BaseModel):
    """What went wrong, and why; with a set that was changed meanwhile, as it is now."""

    kind: str
    message: str
    view: SetView | None = None


def view_of(shelf: Shelf, item: Item) -> SetView:
    content = content_of(shelf, item)
    tunes = []
    for each in content.tunes:
        tune = shelf.item(each.item)
        tunes.append(
            SetTune(
                id=tune.id,
                title=tune.name,
                kind=kind_of(shelf, tune.id),
                notes=each.notes,
                removed=tune.removed,
            )
        )
    return SetView(
        id=item.id,
        state=item.state.number,
        name=content.name,
        notes=content.notes,
        tunes=tunes,
        said=item.state.said,
        can_undo=item.removed or item.state.parent > 0,
        can_redo=not item.removed and shelf.can_redo(item.id),
    )
