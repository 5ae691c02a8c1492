"""Harps on the shelf with what was measured and done: entries added and taken back.

The bench's own functions add an entry to a file; here that file is a passing one, and what it then
says becomes the harp's next state on the shelf. So each entry can be undone, and a page that shows
an older state is told so instead of writing over another's.

Public: `HarpOnShelf`, `harp_on`, `harps_kept`, `with_entry`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Harp
from reedwright.shelf.belongings.harps import history_on
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind, NotOnShelf
from reedwright.workshop.history.model import History
from reedwright.workshop.history.reading import read_history


class HarpOnShelf(NamedTuple):
    """A harp of one's own: its item, its history, and the harp that it is now.

    `harp` is None where its tuning was a file that is gone; `wrong` says so then.
    """

    item: Item
    history: History
    harp: Harp | None
    wrong: str = ""


def harp_on(shelf: Shelf, item: int) -> HarpOnShelf:
    """Raises `NotOnShelf`, `HistoryError`."""
    kept = shelf.item(item)
    if kept.kind is not Kind.HARP:
        raise NotOnShelf(f"There is no harp with the number {item} on the shelf.")
    return _harp_on(shelf, kept)


def _harp_on(shelf: Shelf, item: Item) -> HarpOnShelf:
    history = history_on(shelf, item.id)
    try:
        return HarpOnShelf(item, history, parse_harp(history.harp_now))
    except ReedwrightError as error:
        return HarpOnShelf(item, history, None, str(error))


def harps_kept(shelf: Shelf) -> tuple[HarpOnShelf, ...]:
    """All harps on the shelf, by name."""
    with shelf.reading():
        items = sorted(shelf.items(Kind.HARP), key=lambda item: item.name.casefold())
        return tuple(_harp_on(shelf, item) for item in items)


def with_entry(
    shelf: Shelf,
    item: int,
    add: Callable[[History], History],
    said: str,
    made_from: int | None = None,
) -> HarpOnShelf:
    """The harp with an entry more, as its next state.

    `add` is one of the bench's functions that add an entry to a history's file. Raises what it
    does, and `ChangedMeanwhile` where the harp is no longer in the state `made_from`.
    """
    with shelf.change():
        now = shelf.item(item)
        with TemporaryDirectory(prefix="reedwright-bench-") as folder:
            path = Path(folder) / "harp.toml"
            path.write_text(now.state.text, encoding="utf-8", newline="")
            add(read_history(path, now.state.text))
            text = path.read_bytes().decode("utf-8")
        shelf.revise(item, text, said=said, made_from=made_from)
    return harp_on(shelf, item)
