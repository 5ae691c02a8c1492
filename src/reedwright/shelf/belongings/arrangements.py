"""Arrangements: what a teacher decided about a tune, as the arrangement file has it.

Every decision is a state, so that any of them can be undone. A tune may have several arrangements
under names of their own; the one called `USUAL` is taken where none is named.

Public: `keep_choices`, `choices_on`, `arrangements_of`, `take_in_arrangements`,
`arrangement_from_file`, `USUAL`.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, NotOnShelf, Role, ShelfError
from reedwright.tab.choices.book import ChoiceBook
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.choices.reading import choices_path, parsed_choices, read_choices
from reedwright.tab.choices.writing import written_choices
from reedwright.tune.model import Tune
from reedwright.tune.reading import files_of_tunes

USUAL = "usual"


def keep_choices(
    shelf: Shelf, tune: int, choices: TuneChoices, said: str = "", name: str = USUAL
) -> Item:
    """The tune's arrangement of that name says this from now on; its earlier states stay."""
    with shelf.change():
        there = _arrangement(shelf, tune, name)
        book = ChoiceBook() if there is None else parsed_choices(there.state.text)
        table = 0 if book.tunes else None
        text = written_choices(book.changed(_with_table(choices, table)))
        if there is None:
            made = shelf.add(Kind.ARRANGEMENT, name, Form.TOML, text, said=said)
            shelf.link(made.id, Role.OF, [tune])
            return made
        return there if there.state.text == text else shelf.revise(there.id, text, said=said)


def _with_table(choices: TuneChoices, table: int | None) -> TuneChoices:
    from dataclasses import replace

    return replace(choices, table=table)


def choices_on(shelf: Shelf, tune: int, name: str = USUAL) -> TuneChoices | None:
    """What the tune's arrangement of that name says; None where there is none.

    Raises `ChoicesError` where it was written by a newer version, and `NotOnShelf` for a name other
    than the usual one that the tune has no arrangement of.
    """
    there = _arrangement(shelf, tune, name)
    if there is None:
        if name != USUAL:
            have = ", ".join(each.name for each in arrangements_of(shelf, tune)) or "none"
            raise NotOnShelf(f"The tune has no arrangement called '{name}' (it has: {have}).")
        return None
    book = parsed_choices(there.state.text, Path(f"{there.name}.arrangement.toml"))
    return book.tunes[0] if book.tunes else None


def arrangements_of(shelf: Shelf, tune: int) -> tuple[Item, ...]:
    """All arrangements of a tune, as they came."""
    found = (shelf.item(link.item) for link in shelf.linked_to(tune, Role.OF))
    return tuple(item for item in found if item.kind is Kind.ARRANGEMENT and not item.removed)


def take_in_arrangements(shelf: Shelf, places: Iterable[Path]) -> tuple[Item, ...]:
    """Keep what the arrangement files beside tunebooks say of the tunes that came from those.

    `places`: files and folders of tunes, as they were taken in. What was decided on the shelf
    already stays: only tunes without a usual arrangement get one. Raises `ChoicesError` for a file
    that cannot be used.
    """
    kept = []
    for tune_file in files_of_tunes(places):
        path = choices_path(tune_file)
        if not path.exists():
            continue
        book = read_choices(path)
        for item, tune in _tunes_from(shelf, tune_file):
            choices = book.of(tune)
            if choices.table is not None and _arrangement(shelf, item, USUAL) is None:
                kept.append(keep_choices(shelf, item, choices, f"from {path.name}"))
    return tuple(kept)


def _tunes_from(shelf: Shelf, tune_file: Path) -> list[tuple[int, Tune]]:
    """The tunes of the shelf that came from a file."""
    from reedwright.shelf.facts.reading import tune_of
    from reedwright.shelf.filling.told import label_of

    rows = shelf.db.execute(
        "SELECT item.id FROM item JOIN state ON state.item = item.id AND "
        "state.number = item.state WHERE item.kind = 'tune' AND item.removed = 0 "
        "AND json_extract(state.about, '$.file') = ?",
        (label_of(tune_file.resolve()),),
    ).fetchall()
    return [(row[0], tune_of(shelf, shelf.item(row[0]))) for row in rows]


def _arrangement(shelf: Shelf, tune: int, name: str) -> Item | None:
    return next((each for each in arrangements_of(shelf, tune) if each.name == name), None)


def arrangement_from_file(shelf: Shelf, tune: int, path: Path) -> Item:
    """Keep what an arrangement file says of a tune on the shelf.

    Raises `ChoicesError`, `ShelfError` where the file says nothing of that tune.
    """
    from reedwright.shelf.facts.reading import tune_of

    read = tune_of(shelf, shelf.item(tune))
    book = read_choices(path)
    choices = book.of(read)
    if choices.table is None:
        raise ShelfError(f"{path}: says nothing of '{read.title}'.")
    return keep_choices(shelf, tune, choices, f"from {path.name}")
