"""Lists of tunes: a course, a repertoire, an evening.

A list is kept as TOML that can be read and edited: its tunes by title and by the `uid` that stays
the same when the shelf is exported and brought back. An evening of sets is a list, too; its form is
that of `reedwright.tab.sets` (docs/sets.md), and its tunes are found in it likewise.

A book in the making is a list, too: its text is the book's plan, and its `about` says so.

Public: `keep_list`, `keep_evening`, `list_text`, `is_book`, `lists_on`, `books_of`, `WHAT`, `BOOK`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence

import tomlkit

from reedwright.shelf.belongings.texts import keep_text
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, Role, ShelfError

WHAT, BOOK = "what", "book"
"""In a state's `about`, of the plan of a book."""


def is_book(item: Item) -> bool:
    return item.kind is Kind.LIST and item.state.about.get(WHAT) == BOOK


def lists_on(shelf: Shelf) -> tuple[Item, ...]:
    """All lists and evenings, without the books, in the order in which they came."""
    return tuple(item for item in shelf.items(Kind.LIST) if not is_book(item))


def books_of(shelf: Shelf, removed: bool = False) -> tuple[Item, ...]:
    """All books, in the order in which they came. `removed`: those taken off."""
    return tuple(item for item in shelf.items(Kind.LIST, removed) if is_book(item))


def keep_list(shelf: Shelf, name: str, tunes: Sequence[Item], said: str = "") -> Item:
    """The list of that name has these tunes from now on, in this order. Raises `ShelfError` where
    a book has that name."""
    called = " ".join(name.split())
    if not called:
        raise ShelfError("A list needs a name, such as 'Tuesday beginners'.")
    return _keep(shelf, called, list_text(called, tunes), [tune.id for tune in tunes], said)


def keep_evening(shelf: Shelf, name: str, text: str, tunes: Sequence[int], said: str = "") -> Item:
    """The same for an evening that was planned: its TOML, and its tunes in order."""
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ShelfError(f"{name}: the evening is not valid TOML ({error}).") from None
    return _keep(shelf, name, text, tunes, said)


def _keep(shelf: Shelf, name: str, text: str, tunes: Sequence[int], said: str) -> Item:
    with shelf.change():
        if any(item.name == name for item in books_of(shelf)):
            raise ShelfError(f"A book is called '{name}' already. Give the list another name.")
        kept = keep_text(shelf, Kind.LIST, name, Form.TOML, text, said)
        shelf.link(kept.id, Role.ON, tunes)
    return kept


def list_text(name: str, tunes: Sequence[Item]) -> str:
    """The list as TOML."""
    document = tomlkit.document()
    document["title"] = name
    tables = tomlkit.aot()
    for tune in tunes:
        table = tomlkit.table()
        table["title"] = tune.name
        table["uid"] = tune.uid
        tables.append(table)
    document["tune"] = tables
    return tomlkit.dumps(document)
