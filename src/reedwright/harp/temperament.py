"""Temperaments: how far each note of a harp is set from equal temperament, in cents.

A temperament gives twelve offsets, by semitones above the tonic of first position. The ratios
and their sources stand in `temperaments.toml`. An interval of ratio r has 1200 log2(r) cents
(Ellis's cent, ISO 80000-8 gives the octave as 1200), so 5/4 is 386.31 and 3/2 is 701.96.

Public: `Temperament`, `all_temperaments`, `find_temperament`, `offset`, `reed_offsets`.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import log2
from pathlib import Path

from reedwright.datafiles import did_you_mean
from reedwright.errors import ReedwrightError
from reedwright.harp.model import Breath, Harp, Reed

TABLE = Path(__file__).with_name("temperaments.toml")
EQUAL = "equal"
SEMITONES = 12


class UnknownTemperament(ReedwrightError):
    """A temperament that is not in the table."""


@dataclass(frozen=True, slots=True)
class Temperament:
    """`offsets`: cents above equal temperament of the twelve semitones above the tonic."""

    name: str
    title: str
    description: str
    offsets: tuple[float, ...]
    source: str = ""


def cents(ratio: Fraction) -> float:
    """The size of an interval: 1200 times the logarithm of its ratio to base 2."""
    return 1200 * log2(ratio.numerator / ratio.denominator)


@lru_cache(maxsize=1)
def all_temperaments() -> dict[str, Temperament]:
    """Those of the table, by name, equal temperament first."""
    with TABLE.open("rb") as file:
        entries = tomllib.load(file)
    return {
        name: Temperament(
            name,
            entry["title"],
            entry["description"],
            _offsets(entry["ratios"], entry.get("share", 1.0)),
            entry["source"],
        )
        for name, entry in entries.items()
    }


def find_temperament(name: str) -> Temperament:
    """A temperament by name. Raises `UnknownTemperament`."""
    known = all_temperaments()
    if name not in known:
        raise UnknownTemperament(
            f"'{name}' is no temperament{did_you_mean(name, known)}; there are {', '.join(known)}"
        )
    return known[name]


def offset(temperament: Temperament, midi: int, harp: Harp) -> float:
    """How far this note of this harp is set above equal temperament, in cents.

    Bends and overblows are to meet the same scale as the reeds.
    """
    return temperament.offsets[(midi - harp.home_pitch_class) % SEMITONES]


def reed_offsets(temperament: Temperament, harp: Harp) -> dict[Reed, float]:
    """The same for every reed of the harp."""
    return {
        Reed(hole, breath): offset(temperament, harp.reed_midi(hole, breath), harp)
        for hole in range(1, harp.tuning.holes + 1)
        for breath in Breath
    }


def _offsets(ratios: str, share: float) -> tuple[float, ...]:
    if not ratios:
        return (0.0,) * SEMITONES
    each = [Fraction(ratio) for ratio in ratios.split()]
    if len(each) != SEMITONES:
        raise UnknownTemperament(f"{TABLE.name}: twelve ratios are needed, not {len(each)}")
    return tuple(share * (cents(ratio) - 100 * k) for k, ratio in enumerate(each))
