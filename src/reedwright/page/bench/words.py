"""What bench sheets, labels and cards call things, in print: reeds, notes, Hz, cents, dates.

Public: `in_print`, `reed_words`, `note_words`, `hz_words`, `signed`, `date_words`,
`tuned_words`, `temperament_title`,
`temperament_words`, `pitch_words`, `ranges`, `capital`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from pathlib import Path

from reedwright.harp.layout import note_name
from reedwright.harp.model import Harp, Reed
from reedwright.page.content import signs_in_print
from reedwright.workshop.targets.finding import find_reed_temperament
from reedwright.workshop.targets.model import TargetWishes
from reedwright.workshop.targets.setting import beat_wish_words

MINUS, PLUS, PLUS_MINUS = "−", "+", "±"


def in_print(text: str) -> str:
    """Sentences of a plan as they are printed: `Bb4` as `B♭4`, `-3.5` with a true minus."""
    return _MINUS_SIGN.sub(MINUS, signs_in_print(text))


_MINUS_SIGN = re.compile(r"(?<![\w.])-(?=\d)")


def reed_words(reed: Reed) -> str:
    """`3 blow`."""
    return f"{reed.hole} {reed.breath.value}"


def note_words(midi: int, harp: Harp, octave: bool = True) -> str:
    """A note as it is printed: `B♭4`."""
    return signs_in_print(note_name(midi, harp, octave))


def hz_words(hz: float) -> str:
    """`392.00`, to the hundredth: at A4 that is 0.04 cents."""
    return f"{hz:.2f}"


def signed(cents: float, places: int = 1) -> str:
    """`+13.7`, `−200.0`; `0.0` where nothing is left after rounding."""
    text = f"{abs(cents):.{places}f}"
    if not float(text):
        return text
    return (MINUS if cents < 0 else PLUS) + text


def plain(number: float) -> str:
    """`442`, `441.5`: no more places than are needed."""
    return f"{number:.2f}".rstrip("0").rstrip(".")


def pitch_words(a4: float) -> str:
    """`A4 = 442 Hz`, which no line breaks."""
    return f"A4\N{NO-BREAK SPACE}=\N{NO-BREAK SPACE}{plain(a4)}\N{NO-BREAK SPACE}Hz"


def date_words(day: date | str | None) -> str:
    """`28 November 2026`; what is given as text stays as it is."""
    if day is None:
        return ""
    return day if isinstance(day, str) else f"{day.day} {day:%B %Y}"


def temperament_title(temperament: str | Path) -> str:
    """What people call a temperament. Raises as `find_reed_temperament` does."""
    return find_reed_temperament(temperament).title


def temperament_words(temperament: str | Path) -> dict[str, str]:
    """A temperament's title and what it is good for. Raises as `find_reed_temperament` does."""
    found = find_reed_temperament(temperament)
    return {"title": found.title, "description": found.description}


def tuned_words(wishes: TargetWishes) -> list[tuple[str, str]]:
    """How a harp is tuned, as label and text: temperament, A4, pressure, stretch, set beats."""
    facts = [
        ("temperament", temperament_title(wishes.temperament)),
        ("pitch", pitch_words(wishes.a4)),
    ]
    if wishes.pressure:
        facts.append(
            ("pressure", f"tune {plain(wishes.pressure)} cents sharp; playing flattens it")
        )
    if wishes.stretch:
        facts.append(("stretch", f"{signed(wishes.stretch)} cents an octave"))
    facts += [("beats", beat_wish_words(wish)) for wish in wishes.beats]
    return facts


def ranges(numbers: Sequence[int]) -> str:
    """`1 to 5, 8, 9`: three or more that follow each other are a run."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    return ", ".join(
        f"{run[0]} to {run[-1]}" if len(run) > 2 else ", ".join(map(str, run)) for run in runs
    )


def capital(text: str) -> str:
    """As a title begins: `low D harp` -> `Low D harp`."""
    return text[:1].upper() + text[1:]
