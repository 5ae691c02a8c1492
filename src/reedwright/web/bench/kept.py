"""Harps on the shelf with what was measured and done: entries added, taken back, taken in.

The bench's own functions add an entry to a file; here that file is a passing one, and what it then
says becomes the harp's next state on the shelf. So each entry can be undone, and a page that shows
an older state is told so instead of writing over another's.

Public: `HarpOnShelf`, `harp_on`, `harps_kept`, `with_entry`, `new_from_bench`, `take_in`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Harp
from reedwright.shelf.belongings.harps import history_on
from reedwright.shelf.belongings.texts import keep_text, text_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, NotOnShelf
from reedwright.workshop.history.keeping import histories
from reedwright.workshop.history.model import History
from reedwright.workshop.history.reading import read_history
from reedwright.workshop.history.writing import entry_text


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


def new_from_bench(shelf: Shelf, folder: Path | None = None) -> tuple[History, ...]:
    """The bench's histories that say something which the shelf has not heard before.

    A harp that was taken off the shelf stays off.
    """
    found = []
    with shelf.reading():
        kept = {item.name: item for item in shelf.items(Kind.HARP)}
        gone = {item.name for item in shelf.items(Kind.HARP, removed=True)} - set(kept)
        for history in histories(folder):
            there = kept.get(history.name)
            if history.name in gone or (there and _said_before(shelf, there, history)):
                continue
            found.append(history)
    return tuple(found)


def _said_before(shelf: Shelf, item: Item, history: History) -> bool:
    """Whether the shelf had this text, or one with all its entries (and its own besides)."""
    text = text_of(history.path)
    for state in shelf.states(item.id):
        if state.text == text:
            return True
        known = read_history(history.path, state.text)
        if known.harp == history.harp and set(history.entries) <= set(known.entries):
            return True
    return False


def take_in(shelf: Shelf, folder: Path | None = None) -> tuple[Item, ...]:
    """Take in what the command line's bench has written. Nothing of the shelf's own is lost:
    entries that were added here stand behind the bench's."""
    found = []
    with shelf.change():
        kept = {item.name: item for item in shelf.items(Kind.HARP)}
        for history in new_from_bench(shelf, folder):
            text = text_of(history.path)
            there = kept.get(history.name)
            if there is not None:
                text = _with_own(text, history, history_on(shelf, there.id))
            item = keep_text(shelf, Kind.HARP, history.name, Form.TOML, text, "from the bench")
            found.append(item)
    return tuple(found)


def _with_own(text: str, of_bench: History, of_shelf: History) -> str:
    """The bench's text with the entries behind it that only the shelf has."""
    there = set(of_bench.entries)
    own: Sequence[str] = [entry_text(each) for each in of_shelf.entries if each not in there]
    whole = "".join([text if text.endswith("\n") else f"{text}\n", *own]) if own else text
    read_history(of_bench.path, whole)  # nothing is kept that can't be read again
    return whole
