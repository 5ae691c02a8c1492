"""Sets and lists as their page changes them: tunes in order, with a word to each, under a name.

A list is TOML (docs/shelf.md): `title`, `notes`, and `[[tune]]` with `title`, `uid`, `notes`. An
evening that was planned has `[[set]]` instead (docs/sets.md), and is shown as it was planned.

Public: `ListTune`, `Content`, `content_of`, `is_evening`, `list_on`, `new_list`,
`change`, `unused_name`, `kind_of`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import tomlkit

from reedwright.shelf.belongings.lists import is_book
from reedwright.shelf.facts.keeping import facts_on
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, NotOnShelf, Role, ShelfError
from reedwright.tab.words import counted


@dataclass(frozen=True, slots=True)
class ListTune:
    """`notes`: a word on how it is played here."""

    item: int
    notes: str = ""


@dataclass(frozen=True, slots=True)
class Content:
    """What a list says."""

    name: str
    tunes: tuple[ListTune, ...] = ()
    notes: str = ""


def is_evening(item: Item) -> bool:
    return "set" in _values(item)


def list_on(shelf: Shelf, number: int) -> Item:
    """Raises `NotOnShelf` where no list has that number."""
    item = shelf.item(number, Kind.LIST)
    if is_book(item):
        raise NotOnShelf(f"There is no set or list with the number {number} on the shelf.")
    return item


def content_of(shelf: Shelf, item: Item) -> Content:
    """What the list says; tunes that are off the shelf stand in it all the same.

    Its tunes are those that it is linked to, in order; the words to them are found by their uids,
    one after another for a tune that stands in it more than once.
    """
    values = _values(item)
    tables = values.get("tune", [])
    words: dict[str, list[str]] = {}
    if isinstance(tables, list):
        for table in tables:
            if isinstance(table, dict):
                words.setdefault(str(table.get("uid", "")), []).append(str(table.get("notes", "")))
    tunes = []
    for link in shelf.links(item.id, Role.ON):
        left = words.get(shelf.item(link.to).uid, [])
        tunes.append(ListTune(link.to, left.pop(0) if left else ""))
    return Content(item.name, tuple(tunes), str(values.get("notes", "")))


def _values(item: Item) -> dict[str, Any]:
    try:
        return tomllib.loads(item.state.text)
    except tomllib.TOMLDecodeError:
        return {}


def new_list(shelf: Shelf, name: str, tunes: Sequence[int] = ()) -> Item:
    """An empty list, or one of these tunes; another name is found where there is one so called."""
    with shelf.change():
        called = unused_name(shelf, name)
        content = Content(called, tuple(ListTune(tune) for tune in tunes))
        item = shelf.add(Kind.LIST, called, Form.TOML, _text(shelf, content), said="begun")
        shelf.link(item.id, Role.ON, tunes)
    return shelf.item(item.id)


def unused_name(shelf: Shelf, name: str) -> str:
    """The name, or the name with the first number that tells it from another list's."""
    wanted = " ".join(name.split())
    if not wanted:
        raise ShelfError("A set needs a name, such as 'Saturday, first set'.")
    used = {item.name for item in shelf.items(Kind.LIST)}
    found, count = wanted, 1
    while found in used:
        count += 1
        found = f"{wanted} {count}"
    return found


def change(shelf: Shelf, number: int, content: Content, made_from: int, said: str = "") -> Item:
    """The list says this from now on; what it said stays as a state.

    Raises `ChangedMeanwhile` where its present state is not `made_from`, `NotOnShelf` for a tune
    that is not there, `ShelfError` for an evening and for a name that another list has.
    """
    with shelf.change():
        item = list_on(shelf, number)
        if is_evening(item):
            raise ShelfError(f"{item.name} is an evening as it was planned; plan another one.")
        before = content_of(shelf, item)
        name = " ".join(content.name.split())
        if name != item.name and any(each.name == name for each in shelf.items(Kind.LIST)):
            raise ShelfError(f"There is a set or list called '{name}' already.")
        after = Content(name or item.name, content.tunes, content.notes)
        if after == before and item.state.number == made_from:
            return item
        changed = shelf.revise(
            number,
            _text(shelf, after),
            said=said or _difference(shelf, before, after),
            name=after.name,
            made_from=made_from,
        )
        shelf.link(changed.id, Role.ON, [tune.item for tune in after.tunes])
    return shelf.item(number)


def _text(shelf: Shelf, content: Content) -> str:
    document = tomlkit.document()
    document["title"] = content.name
    if content.notes:
        document["notes"] = content.notes
    tables = tomlkit.aot()
    for tune in content.tunes:
        item = shelf.item(tune.item, Kind.TUNE)
        table = tomlkit.table()
        table["title"] = item.name
        table["uid"] = item.uid
        if tune.notes:
            table["notes"] = tune.notes
        tables.append(table)
    document["tune"] = tables
    return tomlkit.dumps(document)


def _difference(shelf: Shelf, before: Content, after: Content) -> str:
    """What was done, in a few words."""
    if before.name != after.name:
        return f"called '{after.name}'"
    old, new = [tune.item for tune in before.tunes], [tune.item for tune in after.tunes]
    added, gone = _beyond(new, old), _beyond(old, new)
    said = [
        f"{_titles(shelf, numbers)} {word}"
        for numbers, word in ((added, "added"), (gone, "taken out"))
        if numbers
    ]
    if not said and old != new:
        said = ["order changed"]
    return " and ".join(said) or "notes changed"


def _beyond(some: Sequence[int], others: Sequence[int]) -> list[int]:
    """Those of the first that the second does not have as often."""
    left = list(others)
    found = []
    for each in some:
        if each in left:
            left.remove(each)
        else:
            found.append(each)
    return found


def _titles(shelf: Shelf, numbers: Sequence[int]) -> str:
    return shelf.item(numbers[0]).name if len(numbers) == 1 else counted(len(numbers), "tune")


def kind_of(shelf: Shelf, tune: int) -> str:
    """`reel, G major`, as lists show it."""
    facts = facts_on(shelf, tune)
    return "" if facts is None else ", ".join(part for part in (facts.type, facts.key) if part)
