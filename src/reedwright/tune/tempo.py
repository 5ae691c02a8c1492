"""How fast a tune goes: its own tempo mark, or what is usual for its type.

The table is `tempi.toml` (common practice, no source). Public: `default_tempo`,
`tempo_of`, `quarters_per_minute`.
"""

from __future__ import annotations

import tomllib
from fractions import Fraction
from functools import lru_cache
from pathlib import Path

from reedwright.tune.model import Meter, Tempo, Tune
from reedwright.tune.tunetypes import type_among

TABLE = Path(__file__).with_name("tempi.toml")

# Where a tune names no type the metre stands for one (common practice, no source).
_TYPE_OF_METER = {
    "2/4": "polka",
    "3/4": "waltz",
    "4/4": "country dance",
    "2/2": "reel",
    "3/2": "three-two hornpipe",
    "6/8": "jig",
    "9/8": "slip jig",
    "12/8": "slide",
}
_LAST_RESORT = Tempo(Fraction(1), Fraction(100))  # crotchets; a moderate walk


def tempo_of(tune: Tune) -> Tempo:
    """The tune's own tempo where it states a number, else `default_tempo`."""
    if tune.tempo is not None and tune.tempo.quarters_per_minute:
        return tune.tempo
    return default_tempo(tune)


def quarters_per_minute(tune: Tune) -> float:
    """Quarter notes (crotchets) a minute, from `tempo_of`."""
    return float(tempo_of(tune).quarters_per_minute or 0) or 100.0


def default_tempo(tune: Tune) -> Tempo:
    """What is usual for the tune's type, or else for its metre. Always has a `bpm`."""
    name = type_among(tune.type, _table())
    if name:
        return _table()[name]
    return _tempo_of_meter(tune.meter)


def _tempo_of_meter(meter: Meter) -> Tempo:
    if meter.free:
        return _table()["air"]
    name = f"{sum(meter.beats)}/{meter.unit}"
    return _table().get(_TYPE_OF_METER.get(name, ""), _LAST_RESORT)


@lru_cache(maxsize=1)
def _table() -> dict[str, Tempo]:
    with TABLE.open("rb") as file:
        entries = tomllib.load(file)
    return {
        name: Tempo(Fraction(entry["beat"]), Fraction(entry["bpm"]))
        for name, entry in entries.items()
    }
