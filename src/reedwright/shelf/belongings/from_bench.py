"""Harps' histories as the command line's bench writes them, taken onto the shelf.

Entries that were added on the shelf are kept behind those of the bench.

Public: `take_in_bench`, `new_from_bench`.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from reedwright.shelf.belongings.harps import history_on
from reedwright.shelf.belongings.texts import keep_text, text_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind
from reedwright.workshop.history.keeping import histories
from reedwright.workshop.history.model import History
from reedwright.workshop.history.reading import read_history
from reedwright.workshop.history.writing import entry_text


def take_in_bench(shelf: Shelf, folder: Path | None = None) -> tuple[Item, ...]:
    """Keep what is new in the histories of the bench; returns the harps that have something new.

    What was undone on the shelf stays so until the bench writes something new, and a harp that was
    taken off the shelf stays off. Files that cannot be read are left out (`unreadable` of the
    bench tells of them).
    """
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


def new_from_bench(shelf: Shelf, folder: Path | None = None) -> tuple[History, ...]:
    """The bench's histories that say something which the shelf has not heard before."""
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


def _with_own(text: str, of_bench: History, of_shelf: History) -> str:
    """The bench's text with the entries behind it that only the shelf has."""
    there = set(of_bench.entries)
    own: Sequence[str] = [entry_text(each) for each in of_shelf.entries if each not in there]
    whole = "".join([text if text.endswith("\n") else f"{text}\n", *own]) if own else text
    read_history(of_bench.path, whole)  # nothing is kept that can't be read again
    return whole
