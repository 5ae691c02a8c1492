"""Types of tunes as a first notation knows them: metre, usual tempo, lilt.

Public: `KINDS`, `Kind`, `kinds_for`. Tempi come from `tune/tempi.toml`. How common a type is, and
how far its lilt goes, is our own judgement (no source).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, log

from reedwright.tune.model import Key, Meter, Tune
from reedwright.tune.tempo import quarters_per_minute
from reedwright.tune.tunetypes import type_among

TEMPO_CENTRE = 0.93  # takes are played a little under the table's tempo
TEMPO_SPREAD = 0.15  # of the logarithm of tempo
TEMPO_OUTLIERS = 0.02  # a share of takes is at any tempo
SWING_SPREAD = 0.13  # of the logarithm of the lilt

_NO_KEY = Key()


@dataclass(frozen=True, slots=True)
class Kind:
    """A type in one metre. `share`: how common it is. `swing`: first quaver to second."""

    name: str
    meter: Meter
    share: float
    swing: float
    tempo: float = 0.0  # quarter notes a minute; 0: the table's

    @property
    def quarters_per_minute(self) -> float:
        if self.tempo:
            return self.tempo
        empty = Tune("1", (), _NO_KEY, self.meter, (), type=self.name)
        return quarters_per_minute(empty)

    def how_common(self) -> float:
        """Natural logarithm of its share of all tunes."""
        return log(self.share)

    def of_tempo(self, quarters_per_minute: float) -> float:
        """How well a tempo goes with it, as a logarithm of likelihood; 0 is best."""
        away = log(quarters_per_minute / (TEMPO_CENTRE * self.quarters_per_minute)) / TEMPO_SPREAD
        usual = (1 - TEMPO_OUTLIERS) * exp(-0.5 * away**2)
        return log(usual + TEMPO_OUTLIERS * exp(-0.5 * (away / 6) ** 2) + 1e-12)

    def of_swing(self, swing: float) -> float:
        """How well a lilt goes with it, likewise."""
        return max(-6.0, -0.5 * (log(swing / self.swing) / SWING_SPREAD) ** 2)


_CUT, _COMMON = Meter((2,), 2, "C|"), Meter((4,), 4, "C")
_TWO, _THREE = Meter((2,), 4), Meter((3,), 4)
_SIX, _NINE, _TWELVE = Meter((6,), 8), Meter((9,), 8), Meter((12,), 8)

KINDS: tuple[Kind, ...] = (
    Kind("reel", _CUT, 0.27, 1.1),
    Kind("hornpipe", _CUT, 0.09, 1.65),
    Kind("march", _COMMON, 0.04, 1.0, 120.0),
    Kind("air", _COMMON, 0.03, 1.0),
    Kind("polka", _TWO, 0.07, 1.0),
    Kind("march", _TWO, 0.03, 1.0),
    Kind("air", _TWO, 0.01, 1.0),
    Kind("waltz", _THREE, 0.09, 1.0),
    Kind("air", _THREE, 0.02, 1.0),
    Kind("jig", _SIX, 0.30, 1.0),
    Kind("air", _SIX, 0.01, 1.0),
    Kind("slip jig", _NINE, 0.04, 1.0),
    Kind("slide", _TWELVE, 0.003, 1.0),
)


def kinds_for(type_: str, meter: Meter | None) -> tuple[Kind, ...]:
    """Those that a wished type and a wished metre leave; a type or metre that is none of
    these makes a kind of its own."""
    names = {kind.name for kind in KINDS}
    name = type_among(type_, names) if type_ else ""
    found = tuple(
        kind
        for kind in KINDS
        if (not type_ or kind.name == name) and (meter is None or _same(kind.meter, meter))
    )
    if found and meter is not None:
        return tuple(replace(kind, meter=meter) for kind in found)  # C| as C|, 4/4 as 4/4
    if found:
        return found
    if meter is not None:
        return (Kind(type_.strip(), meter, 1.0, 1.0),)
    return tuple(Kind(type_.strip(), kind.meter, kind.share, kind.swing) for kind in KINDS)


def _same(one: Meter, other: Meter) -> bool:
    return (
        one.bar_length == other.bar_length
        and one.compound == other.compound
        and (not one.compound or one.beat_length == other.beat_length)
    )
