"""What the forms of the bench ask for, as harps and wishes; what is wrong, beside its field.

Names of tunings and temperaments are looked up among those that are known. A path is never taken
from a browser, though the command line takes one.

Public: `HarpAsked`, `WishesAsked`, `Wrong`, `harp_asked`, `harps_asked`, `wishes_asked`, `number`,
`harp_words`, `choices`, `harp_fields`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Annotated

from pydantic import BaseModel, Field

from reedwright.datafiles import is_path
from reedwright.errors import ReedwrightError
from reedwright.harp.making import AS_MADE, REGISTERS, HarpError, make_harp, parse_harp
from reedwright.harp.model import Harp
from reedwright.harp.naming import KEYS
from reedwright.harp.tunings import all_tunings
from reedwright.page.content import signs_in_print
from reedwright.workshop.targets.checking import check_wishes
from reedwright.workshop.targets.finding import all_reed_temperaments
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import BeatWish, TargetWishes
from reedwright.workshop.targets.setting import parse_beat_wish

Word = Annotated[str, Field(max_length=80)]
Line = Annotated[str, Field(max_length=400)]
Lines = Annotated[str, Field(max_length=2000)]

MOST_HARPS = 12  # planned in one go: a day's work at the bench, judgement
MOST_PAIRS = 40  # set to beat


class HarpAsked(BaseModel):
    """A harp as a form says it."""

    key: Word = "G"
    in_register: Word = "ordinary"
    tuning: Word = "richter"
    valves: Word = ""


class WishesAsked(BaseModel):
    """How it is to be tuned, as a form says it. `beats`: a pair in each line."""

    temperament: Word = "equal"
    a4: Word = "440"
    pressure: Word = "0"
    stretch: Word = "0"
    beats: Lines = ""


class Wrong(dict[str, str]):
    """By the name of a field what is wrong with it, a sentence each."""

    def read(self, text: str, name: str, otherwise: float) -> float:
        """The number in a field. What is none is told, and `otherwise` stands in."""
        try:
            return number(text)
        except ReedwrightError as error:
            self[name] = str(error)
            return otherwise


def number(text: str) -> float:
    """A number as people write it: 2.5 or, in much of Europe, 2,5. Raises `ReedwrightError`."""
    try:
        found = float(text.strip().replace(",", ".").replace("\N{MINUS SIGN}", "-"))
    except ValueError:
        found = math.nan
    if not math.isfinite(found):
        raise ReedwrightError(f"'{text}' is no number such as 2.5")
    return found


def harp_asked(asked: HarpAsked, wrong: Wrong, prefix: str = "") -> Harp | None:
    """The harp; None, and told in `wrong` by `prefix` and field, where it can't be made."""
    if asked.in_register not in REGISTERS:
        wrong[f"{prefix}in_register"] = "Choose one of the list."
    if asked.tuning not in all_tunings():
        wrong[f"{prefix}tuning"] = "There is no tuning of that name any more; choose another."
    if any(name in wrong for name in (f"{prefix}in_register", f"{prefix}tuning")):
        return None
    try:
        make_harp(asked.key, asked.tuning)
    except ReedwrightError as error:
        wrong[f"{prefix}key"] = str(error)
        return None
    try:
        valves = asked.valves.strip() or AS_MADE
        return make_harp(asked.key, asked.tuning, asked.in_register, valves)
    except ReedwrightError as error:
        wrong[f"{prefix}valves"] = str(error)
        return None


def harp_words(harp: Harp) -> str:
    """The harp as one text that `parse_harp` reads, so that it can be kept and sent."""
    register = "" if harp.register == "ordinary" else f"{harp.register} "
    text = f"{register}{harp.key}:{harp.tuning.name}"
    as_made = make_harp(harp.key, harp.tuning, harp.register)
    if harp.isolated == as_made.isolated:
        return text
    if not harp.isolated:
        return f"{text}:none"
    half = make_harp(harp.key, harp.tuning, harp.register, "half")
    full = make_harp(harp.key, harp.tuning, harp.register, "full")
    for name, each in (("half", half), ("full", full)):
        if harp.isolated == each.isolated:
            return f"{text}:{name}"
    reeds = " ".join(f"{reed.breath.value} {reed.hole}" for reed in sorted(harp.isolated))
    return f"{text}:{reeds}"


def harp_fields(harp: Harp) -> HarpAsked:
    """The fields that ask for this harp."""
    _, _, valves = (*harp_words(harp).split(":"), "")[:3]
    return HarpAsked(
        key=harp.key, in_register=harp.register, tuning=harp.tuning.name, valves=valves[:80]
    )


def harps_asked(text: str, wrong: Wrong, field: str) -> tuple[Harp, ...]:
    """Harps in a line, `C, G:richter-raised-3-blow, low D`; one may be named twice."""
    found: list[Harp] = []
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        try:
            found.append(_named(part))
        except ReedwrightError as error:
            wrong[field] = str(error)
            return ()
    if len(found) > MOST_HARPS:
        wrong[field] = f"{len(found)} harps are too many for one plan; {MOST_HARPS} at most."
        return ()
    return tuple(found)


def _named(text: str) -> Harp:
    tuning = (*text.split(":"), "")[1].strip()
    if tuning and (is_path(tuning) or tuning not in all_tunings()):
        raise HarpError(
            f"There is no tuning named '{tuning}'. Write key:tuning, such as "
            "G:richter-raised-3-blow."
        )
    return parse_harp(text)


def wishes_asked(asked: WishesAsked, wrong: Wrong, harp: Harp | None = None) -> TargetWishes:
    """The wishes; what can't be met is told in `wrong` and left out. `harp`: whose reeds they are
    for, so that pairs which it has not are told, too."""
    usual = TargetWishes()
    a4 = wrong.read(asked.a4, "a4", usual.a4)
    pressure = wrong.read(asked.pressure, "pressure", 0.0)
    stretch = wrong.read(asked.stretch, "stretch", 0.0)
    for name, wishes in (
        ("a4", TargetWishes(a4=a4)),
        ("pressure", TargetWishes(pressure=pressure)),
        ("stretch", TargetWishes(stretch=stretch)),
    ):
        try:
            check_wishes(wishes)
        except ReedwrightError as error:
            wrong.setdefault(name, _sentence(error))
    temperament = asked.temperament
    if temperament not in all_reed_temperaments():
        wrong["temperament"] = "There is no temperament of that name any more; choose another."
    if wrong:
        return usual
    wishes = TargetWishes(temperament, a4, pressure, stretch)
    if harp is not None:
        try:
            reed_targets(harp, wishes)
        except ReedwrightError as error:
            wrong["temperament"] = _sentence(error)
            return usual
    try:
        beats = _beats(asked.beats)
        wishes = TargetWishes(temperament, a4, pressure, stretch, beats)
        if harp is not None:
            reed_targets(harp, wishes)
    except ReedwrightError as error:
        wrong["beats"] = _sentence(error)
        return usual
    return wishes


def _beats(text: str) -> tuple[BeatWish, ...]:
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) > MOST_PAIRS:
        raise ReedwrightError(f"{len(lines)} pairs are too many; {MOST_PAIRS} at most.")
    return tuple(parse_beat_wish(line) for line in lines)


def _sentence(error: ReedwrightError) -> str:
    said = str(error)
    return f"{said[0].upper()}{said[1:]}"


def choices() -> Mapping[str, list[tuple[str, str]]]:
    """What the lists of the forms offer: value and words."""
    return {
        "keys": [(key, signs_in_print(key)) for key in KEYS],
        "registers": [(name, name) for name in REGISTERS],
        "tunings": [
            (tuning.name, "standard" if tuning.name == "richter" else tuning.title)
            for tuning in all_tunings().values()
        ],
        "temperaments": [(each.name, each.title) for each in all_reed_temperaments().values()],
    }
