"""The harps on the shelf as the pages need them: what they are now, and their histories.

Public: `OwnHarp`, `own_harp`, `own_harps`, `same_reeds`.
"""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Harp
from reedwright.shelf.belongings.harps import history_on
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind
from reedwright.workshop.history.model import History


class OwnHarp(NamedTuple):
    """A harp of one's own: its item, its history, and the harp that it is now. `harp` is None where
    it can't be made out any more, as when its tuning's file is gone; `wrong` says why."""

    item: Item
    history: History
    harp: Harp | None
    wrong: str = ""


def own_harp(shelf: Shelf, item: int) -> OwnHarp:
    """Raises `NotOnShelf`, `HistoryError`."""
    return _now(shelf.item(item, Kind.HARP), history_on(shelf, item))


def own_harps(shelf: Shelf) -> tuple[OwnHarp, ...]:
    """All that are on the shelf, by name; one whose history can't be read has an empty one."""
    found = []
    with shelf.reading():
        for item in sorted(shelf.items(Kind.HARP), key=lambda item: item.name.casefold()):
            try:
                found.append(_now(item, history_on(shelf, item.id)))
            except ReedwrightError as error:
                nothing = History(item.name, "", Path(f"{item.name}.toml"))
                found.append(OwnHarp(item, nothing, None, str(error)))
    return tuple(found)


def _now(item: Item, history: History) -> OwnHarp:
    try:
        return OwnHarp(item, history, parse_harp(history.harp_now))
    except ReedwrightError as error:
        return OwnHarp(item, history, None, str(error))


def same_reeds(one: Harp, other: Harp) -> bool:
    """Whether two harps have the same reeds; valves make no other pitch."""
    return (one.tuning.blow, one.tuning.draw, one.transpose) == (
        other.tuning.blow,
        other.tuning.draw,
        other.transpose,
    )
