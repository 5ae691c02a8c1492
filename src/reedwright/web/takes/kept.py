"""Takes on the shelf, and the tunes that they are of.

Public: `TakeKept`, `takes_kept`, `take_kept`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind, NotOnShelf, Role


@dataclass(frozen=True, slots=True)
class TakeKept:
    """`tune`: the item that it is a take of; `file`: what it was called when it came; `path`: its
    bytes on the shelf, not for telling."""

    item: Item
    tune: Item
    file: str
    by: str
    at: datetime
    path: Path


def takes_kept(shelf: Shelf, tune: int | None = None) -> tuple[TakeKept, ...]:
    """The newest first; of one tune, or of all."""
    found = [_kept(shelf, item) for item in shelf.items(Kind.TAKE)]
    return tuple(
        take for take in reversed(found) if take is not None and tune in (None, take.tune.id)
    )


def take_kept(shelf: Shelf, tune: int, number: int) -> TakeKept:
    """Raises `NotOnShelf` where the tune has no such take."""
    item = shelf.item(number)
    found = _kept(shelf, item) if item.kind is Kind.TAKE else None
    if found is None or found.tune.id != tune:
        raise NotOnShelf("There is no such take of this tune on the shelf.")
    return found


def _kept(shelf: Shelf, item: Item) -> TakeKept | None:
    tunes = [link.to for link in shelf.links(item.id, Role.OF)]
    path = shelf.attachments.path(item.state.attachment) if item.state.attachment else None
    if not tunes or path is None:
        return None
    about = item.state.about
    return TakeKept(
        item,
        shelf.item(tunes[0]),
        str(about.get("file", "") or item.name),
        str(about.get("played by", "")),
        item.state.at,
        path,
    )
