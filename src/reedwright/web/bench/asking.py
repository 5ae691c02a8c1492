"""What the forms of the bench ask for besides a harp; what is wrong, beside its field.

Names of temperaments are looked up among those that are known, as those of tunings are: a path is
never taken from a browser, though the command line takes one.

Public: `WishesAsked`, `Wrong`, `harps_asked`, `wishes_asked`, `number`, `choices`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from typing import Annotated

from pydantic import BaseModel, Field

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Harp
from reedwright.web.harpform import Word, harp_choices
from reedwright.web.music.naming import harp_named
from reedwright.workshop.targets.checking import check_wishes
from reedwright.workshop.targets.finding import all_reed_temperaments
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import BeatWish, TargetWishes
from reedwright.workshop.targets.setting import parse_beat_wish

Line = Annotated[str, Field(max_length=400)]
Lines = Annotated[str, Field(max_length=2000)]

MOST_HARPS = 12  # planned in one go: a day's work at the bench, judgement
MOST_PAIRS = 40  # set to beat


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


def harps_asked(text: str, wrong: Wrong, field: str) -> tuple[Harp, ...]:
    """Harps in a line, `C, G:richter-raised-3-blow, low D`; one may be named twice."""
    found: list[Harp] = []
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        try:
            found.append(harp_named(part))
        except ReedwrightError as error:
            wrong[field] = str(error)
            return ()
    if len(found) > MOST_HARPS:
        wrong[field] = f"{len(found)} harps are too many for one plan; {MOST_HARPS} at most."
        return ()
    return tuple(found)


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
        **harp_choices(),
        "temperaments": [(each.name, each.title) for each in all_reed_temperaments().values()],
    }
