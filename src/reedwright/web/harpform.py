"""A harp as a form asks for it, the same on every page that asks for one.

Names of tunings are looked up among those that are known: a path is never taken from a browser,
though the command line takes one.

Public: `HarpAsked`, `Word`, `harp_asked`, `harp_fields`, `harp_choices`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated

from pydantic import BaseModel, Field

from reedwright.errors import ReedwrightError
from reedwright.harp.making import AS_MADE, REGISTERS, make_harp
from reedwright.harp.model import Harp
from reedwright.harp.naming import KEYS
from reedwright.harp.tunings import all_tunings
from reedwright.harp.written import harp_text
from reedwright.page.content import signs_in_print

MOST_LETTERS = 80  # in a field
Word = Annotated[str, Field(max_length=MOST_LETTERS)]


class HarpAsked(BaseModel):
    """A harp as a form says it."""

    key: Word = "G"
    in_register: Word = "ordinary"
    tuning: Word = "richter"
    valves: Word = ""


def harp_asked(asked: HarpAsked, wrong: dict[str, str], prefix: str = "") -> Harp | None:
    """The harp; None, and told in `wrong` by `prefix` and field, where it can't be made."""
    if asked.in_register not in REGISTERS:
        wrong[f"{prefix}in_register"] = "Choose one of the list."
    if asked.tuning not in all_tunings():
        wrong[f"{prefix}tuning"] = "There is no tuning of that name any more; choose another."
    if any(name in wrong for name in (f"{prefix}in_register", f"{prefix}tuning")):
        return None
    field = "key"
    try:
        make_harp(asked.key, asked.tuning)
        field = "valves"
        valves = asked.valves.strip() or AS_MADE
        return make_harp(asked.key, asked.tuning, asked.in_register, valves)
    except ReedwrightError as error:
        wrong[f"{prefix}{field}"] = str(error)
        return None


def harp_fields(harp: Harp) -> HarpAsked:
    """The fields that ask for this harp."""
    _, _, valves = (*harp_text(harp).split(":"), "", "")[:3]
    return HarpAsked(
        key=harp.key,
        in_register=harp.register,
        tuning=harp.tuning.name,
        valves=valves[:MOST_LETTERS],
    )


def harp_choices() -> Mapping[str, list[tuple[str, str]]]:
    """What the lists of the form offer: value and words."""
    return {
        "keys": [(key, signs_in_print(key)) for key in KEYS],
        "registers": [(name, name) for name in REGISTERS],
        "tunings": [
            (name, "standard" if name == "richter" else each.title)
            for name, each in all_tunings().items()
        ],
    }
