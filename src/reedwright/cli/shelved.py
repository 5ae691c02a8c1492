"""Tunes of the shelf where a command asks for a file: `shelf:12`, `shelf:12,15`, `shelf:` and the
name of a list or a title, `shelf:` alone for all of them.

Such a tune's `source` is `shelf:` and its number, by which what was decided about it is found.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.harp.model import Harp
    from reedwright.shelf.keeping.shelf import Shelf
    from reedwright.shelf.model import Item
    from reedwright.tab.choices import TuneChoices
    from reedwright.tune.model import Tune
    from reedwright.tune.refused import Refused

PREFIX = "shelf:"
NO_HARPS = "No harps are on the shelf. Add one: reedwright shelf harps 'red G' --harp G."


def is_shelved(place: object) -> bool:
    """Whether a place that the user named is on the shelf."""
    return str(place).startswith(PREFIX)


def shelved_tunes(place: str) -> Iterator[Tune | Refused]:
    """The tunes of a place on the shelf. Raises `NotOnShelf`, `ShelfError`."""
    from reedwright.shelf.keeping.opening import open_shelf

    with open_shelf(make=False) as shelf:
        for item in items_named(shelf, place):
            yield tune_on(shelf, item)


def tune_on(shelf: Shelf, item: Item) -> Tune:
    """A tune of the shelf, whose `source` says so. Raises `ShelfError`."""
    from reedwright.shelf.facts.reading import tune_of

    return replace(tune_of(shelf, item), source=f"{PREFIX}{item.id}")


def items_named(shelf: Shelf, place: str) -> list[Item]:
    """The tunes that stand behind a place. Raises `NotOnShelf`, `ShelfError`."""
    from reedwright.shelf.belongings.lessons import tunes_of
    from reedwright.shelf.belongings.naming import named_item
    from reedwright.shelf.model import Kind, NotOnShelf

    called = place.removeprefix(PREFIX).strip()
    if not called:
        return list(shelf.items(Kind.TUNE))
    numbers = [part.strip() for part in called.split(",")]
    if all(number.isdecimal() for number in numbers):
        named = [named_item(shelf, number, Kind.TUNE) for number in numbers]
        for item in named:
            if item.removed:
                choosing.tell(f"'{item.name}' was taken off the shelf; it is used all the same.")
        return named
    try:
        kept = named_item(shelf, called, Kind.LIST)
        tell_of_gone(shelf, kept)
        return list(tunes_of(shelf, kept.id))
    except NotOnShelf:
        return [named_item(shelf, called, Kind.TUNE)]


OWNED = "shelf"  # in place of a list of harps: those that are on the shelf


def owned_harps() -> tuple[Harp, ...]:
    """The harps that are on the shelf. Raises `ReedwrightError` where there are none."""
    from reedwright.shelf.belongings.harps import harps_on
    from reedwright.shelf.keeping.opening import open_shelf

    with open_shelf(make=False) as shelf:
        owned = tuple(dict.fromkeys(harp for _, harp in harps_on(shelf)))
    if not owned:
        raise ReedwrightError(NO_HARPS)
    return owned


def tell_of_gone(shelf: Shelf, kept: Item) -> None:
    """Which tunes of a list or lesson are left out, as they were taken off the shelf."""
    from reedwright.shelf.belongings.lessons import tunes_gone_from

    for tune in tunes_gone_from(shelf, kept.id):
        choosing.tell(
            f"{kept.name}: '{tune.name}' was taken off the shelf and is left out "
            f"(reedwright shelf put-back {tune.id})."
        )


def number_of(tune: Tune) -> int | None:
    """The tune's number on the shelf; None for a tune from elsewhere."""
    called = tune.source.removeprefix(PREFIX)
    return int(called) if is_shelved(tune.source) and called.isdecimal() else None


def choices_for(tune: Tune) -> TuneChoices | None:
    """What was decided about a tune of the shelf; None where nothing was."""
    from reedwright.shelf.belongings.arrangements import choices_on
    from reedwright.shelf.keeping.opening import open_shelf

    number = number_of(tune)
    if number is None:
        return None
    with open_shelf(make=False) as shelf:
        return choices_on(shelf, number)


def keep_choices_for(tune: Tune, choices: TuneChoices, said: str) -> None:
    """Keep what was decided about a tune of the shelf; its earlier states stay."""
    from reedwright.shelf.belongings.arrangements import keep_choices
    from reedwright.shelf.keeping.opening import open_shelf

    number = number_of(tune)
    if number is None:
        raise ReedwrightError(f"{tune.title}: not a tune of the shelf.")
    with open_shelf(make=False) as shelf:
        keep_choices(shelf, number, choices, said)
