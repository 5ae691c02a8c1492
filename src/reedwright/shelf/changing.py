"""Changes that a person makes to one item: from a file, by name, undone and done again.

What follows from the item's state, a tune's facts and what a list is linked to, follows in the same
transaction.

Public: `change_from_file`, `rename`, `undo`, `redo`, `go_to`.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from reedwright.shelf.belongings.arrangements import USUAL
from reedwright.shelf.belongings.lists import is_book
from reedwright.shelf.belongings.texts import text_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, Role, ShelfError

LONGEST_NUMBER = 15  # digits: far beyond any item, and a whole number in SQLite


def change_from_file(shelf: Shelf, item: int, path: Path, said: str = "") -> Item:
    """Give an item the state that a file holds.

    Raises `ShelfError` for a file that cannot be read or is not of the item's form, and the
    errors of that form's reader.
    """
    now = shelf.item(item)
    words = said or f"from {path.name}"
    if now.kind is Kind.TUNE:
        return _change_tune(shelf, item, path, words)
    if now.state.form is Form.FILE:
        return shelf.revise(item, attachment=path, said=words)
    text = text_of(path)
    name = _checked(now, path, text)
    with shelf.change():
        changed = shelf.revise(item, text, said=words, name=name)
        _follow(shelf, changed)
    return changed


def _change_tune(shelf: Shelf, item: int, path: Path, said: str) -> Item:
    from reedwright.shelf.facts.tunes import revise_tune
    from reedwright.tune.reading import read_tunes
    from reedwright.tune.refused import Refused

    found = list(read_tunes(path))
    if len(found) != 1:
        raise ShelfError(f"{path}: there are {len(found)} tunes in it; a file with one is wanted.")
    if isinstance(found[0], Refused):
        raise found[0].error
    with shelf.change():
        changed = revise_tune(shelf, item, found[0], said=said)
        _compare(shelf, item)
    return changed


def _compare(shelf: Shelf, tune: int) -> None:
    """What the tune as it is now may be a setting of."""
    from reedwright.shelf.likenesses.finding_out import find_likenesses

    find_likenesses(shelf, [tune])


def _checked(item: Item, path: Path, text: str) -> str:
    """What an item with this text is called. Raises `ReedwrightError` where it is not of the
    item's form."""
    if item.kind is Kind.PROFILE:
        from reedwright.player.loading import profile_from_text

        return profile_from_text(path, text).name
    if item.kind is Kind.HARP:
        from reedwright.workshop.history.reading import read_history

        return read_history(path, text).name
    if item.kind is Kind.ARRANGEMENT:
        from reedwright.tab.choices.reading import parsed_choices

        parsed_choices(text, path)
    elif item.state.form is Form.TOML:
        try:
            tomllib.loads(text)
        except tomllib.TOMLDecodeError as error:
            raise ShelfError(f"{path}: not a valid TOML file: {error}.") from None
    return item.name


def rename(shelf: Shelf, item: int, name: str) -> Item:
    """Call an item by another name; its content stays. Raises `ShelfError`.

    Tunes are called by their titles, profiles and harps by what their files say: those are changed
    there.
    """
    called = " ".join(name.split())
    if not called:
        raise ShelfError("Say what is to change: a file, or a name with --name.")
    with shelf.change():  # so that what another program changed meanwhile is not gone
        now = shelf.item(item)
        if now.kind in (Kind.TUNE, Kind.PROFILE, Kind.HARP):
            raise ShelfError(
                f"The name of a {now.kind.value} stands in what it says: change it there, with a "
                "file."
            )
        if now.kind is Kind.ARRANGEMENT and now.name == USUAL:
            raise ShelfError("The usual arrangement of a tune is known by that name; it stays.")
        return shelf.revise(item, now.state.text, said=f"called '{called}'", name=called)


def undo(shelf: Shelf, item: int) -> Item:
    """`Shelf.undo`, and all that follows from it."""
    with shelf.change():
        changed = shelf.undo(item)
        _follow(shelf, changed)
    return changed


def redo(shelf: Shelf, item: int) -> Item:
    """`Shelf.redo`, and all that follows from it."""
    with shelf.change():
        changed = shelf.redo(item)
        _follow(shelf, changed)
    return changed


def go_to(shelf: Shelf, item: int, number: int) -> Item:
    """`Shelf.go_to`, and all that follows from it."""
    with shelf.change():
        changed = shelf.go_to(item, number)
        _follow(shelf, changed)
    return changed


def _follow(shelf: Shelf, item: Item) -> None:
    if item.kind is Kind.TUNE:
        from reedwright.shelf.facts.keeping import refresh

        refresh(shelf, items=[item.id])
        _compare(shelf, item.id)
    elif item.kind is Kind.LIST:
        tunes = _tunes_of_book if is_book(item) else _tunes_in
        shelf.link(item.id, Role.ON, tunes(shelf, item))


def _tunes_in(shelf: Shelf, item: Item) -> list[int]:
    """The tunes that a list's TOML names by uid, in its order."""
    found: list[int] = []

    def look(value: object) -> None:
        if isinstance(value, dict):
            uid = value.get("uid")
            if isinstance(uid, str):
                row = shelf.db.execute("SELECT id FROM item WHERE uid = ?", (uid,)).fetchone()
                if row is not None:
                    found.append(int(row[0]))
            for each in value.values():
                look(each)
        elif isinstance(value, list):
            for each in value:
                look(each)

    look(tomllib.loads(item.state.text))
    return found


def _tunes_of_book(shelf: Shelf, item: Item) -> list[int]:
    """The tunes that a book's plan names by their numbers (`shelf:12`), each once, in its order."""
    from reedwright.pack.book.pool import LIBRARY_PREFIX

    found: dict[int, None] = {}

    def look(value: object) -> None:
        if isinstance(value, str) and value.startswith(LIBRARY_PREFIX):
            number = value.removeprefix(LIBRARY_PREFIX)
            if number.isascii() and number.isdecimal() and len(number) <= LONGEST_NUMBER:
                row = shelf.db.execute(
                    "SELECT id FROM item WHERE id = ? AND kind = ?", (int(number), Kind.TUNE)
                ).fetchone()
                if row is not None:
                    found[int(row[0])] = None
        elif isinstance(value, dict):
            for key in ("tune", "tunes", "chapter"):
                look(value.get(key))
        elif isinstance(value, list):
            for each in value:
                look(each)

    look(tomllib.loads(item.state.text))
    return list(found)
