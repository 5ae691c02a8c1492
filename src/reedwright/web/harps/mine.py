"""The harps on the shelf as the pages need them, and a harp as a form asks for it.

Public: `OwnHarp`, `own_harps`, `HarpAsked`, `harp_asked`, `harp_choices`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, NamedTuple

from pydantic import BaseModel, Field

from reedwright.errors import ReedwrightError
from reedwright.harp.making import AS_MADE, REGISTERS, make_harp, parse_harp
from reedwright.harp.model import Harp
from reedwright.harp.naming import KEYS
from reedwright.harp.tunings import all_tunings
from reedwright.page.content import signs_in_print
from reedwright.shelf.belongings.harps import history_on
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind

Word = Annotated[str, Field(max_length=80)]


class OwnHarp(NamedTuple):
    """A harp of one's own as it is now. `harp` is None where it can't be made out any more, as when
    its tuning's file is gone; `wrong` says why."""

    item: Item
    harp: Harp | None
    wrong: str = ""


def own_harps(shelf: Shelf) -> tuple[OwnHarp, ...]:
    """All that are on the shelf, by name."""
    found = []
    for item in sorted(shelf.items(Kind.HARP), key=lambda item: item.name.casefold()):
        try:
            found.append(OwnHarp(item, parse_harp(history_on(shelf, item.id).harp_now)))
        except ReedwrightError as error:
            found.append(OwnHarp(item, None, str(error)))
    return tuple(found)


class HarpAsked(BaseModel):
    """A harp as a form says it."""

    key: Word = "G"
    in_register: Word = "ordinary"
    tuning: Word = "richter"
    valves: Word = ""


def harp_asked(asked: HarpAsked, wrong: dict[str, str]) -> Harp | None:
    """The harp; None where it can't be made, and why stands in `wrong` by the field's name."""
    if asked.in_register not in REGISTERS:
        wrong["in_register"] = "Choose one of the list."
    if asked.tuning not in all_tunings():  # a path is never taken from a browser
        wrong["tuning"] = "There is no tuning of that name; choose one of the list."
    if wrong:
        return None
    field = "key"
    try:
        make_harp(asked.key, asked.tuning)
        field = "valves"
        valves = asked.valves.strip() or AS_MADE
        return make_harp(asked.key, asked.tuning, asked.in_register, valves)
    except ReedwrightError as error:
        wrong[field] = str(error)
        return None


def harp_choices() -> Mapping[str, list[tuple[str, str]]]:
    """What the lists of the form offer: value and words."""
    return {
        "keys": [(key, signs_in_print(key)) for key in KEYS],
        "registers": [(name, name) for name in REGISTERS],
        "tunings": [(name, each.title) for name, each in all_tunings().items()],
    }
