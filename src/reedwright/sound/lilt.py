"""Lilt: how the notes within a beat are played longer and shorter than they are written.

The defaults by tune type are in `data/lilt.toml` (common practice, no source). Lilt moves
notes within a beat only; every beat falls where it is written.
"""

from __future__ import annotations

import tomllib
from bisect import bisect_right
from collections.abc import Iterable
from fractions import Fraction
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from reedwright.tune.model import Meter, Tune
from reedwright.tune.tunetypes import type_among
from reedwright.tune.unfold import Performance

TABLE = Path(__file__).with_name("data") / "lilt.toml"
AS_WRITTEN = 3.0  # a dotted quaver is three times its semiquaver
CROTCHET = Fraction(1)
_HALF, _THREE_QUARTERS = Fraction(1, 2), Fraction(3, 4)
_THIRD, _TWO_THIRDS = Fraction(1, 3), Fraction(2, 3)


class Lilt(NamedTuple):
    """The lilt of a tune type; the fields are explained in `data/lilt.toml`."""

    name: str = ""
    felt: Fraction | None = None
    even: float = 1.0
    dotted: float = AS_WRITTEN
    compound: tuple[float, float, float] = (1.0, 1.0, 1.0)

    @property
    def straight(self) -> bool:
        return self.even == 1.0 and self.dotted == AS_WRITTEN and self.compound == (1.0, 1.0, 1.0)

    def felt_beat(self, meter: Meter) -> Fraction:
        """The beat that is felt in this metre, in quarter notes: it divides the bar."""
        if self.felt is not None and meter.bar_length and not meter.bar_length % self.felt:
            return self.felt
        return meter.beat_length if not meter.free else CROTCHET


STRAIGHT = Lilt()


def lilt_of(tune: Tune) -> Lilt:
    """The usual lilt for the tune's type; straight where the type is unknown."""
    return _table().get(type_among(tune.type, _table()), STRAIGHT)


@lru_cache(maxsize=1)
def _table() -> dict[str, Lilt]:
    with TABLE.open("rb") as file:
        entries = tomllib.load(file)
    return {
        name: Lilt(
            name,
            Fraction(entry["felt"]),
            float(entry.get("even", 1.0)),
            float(entry.get("dotted", AS_WRITTEN)),
            tuple(entry.get("compound", (1.0, 1.0, 1.0))),
        )
        for name, entry in entries.items()
    }


class Warp:
    """Where a place of the played-out tune falls when it is played with a lilt.

    A rising line through the beats; between them it bends as the lilt says. Called
    with and giving quarter notes.
    """

    def __init__(self, knots: Iterable[tuple[Fraction, float]]) -> None:
        pairs = sorted(dict(knots).items())
        self._written = [float(written) for written, _ in pairs]
        self._played = [played for _, played in pairs]

    def __call__(self, quarter: Fraction) -> float:
        at = float(quarter)
        right = bisect_right(self._written, at)
        if right == 0 or right == len(self._written):
            return at  # beyond the beats that it knows nothing is moved
        x0, x1 = self._written[right - 1], self._written[right]
        y0, y1 = self._played[right - 1], self._played[right]
        return y0 + (at - x0) * (y1 - y0) / (x1 - x0)


def warp_of(performance: Performance, lilt: Lilt) -> Warp:
    """The lilt laid over a tune as played."""
    if lilt.straight:
        return Warp(())
    onsets_in: dict[tuple[Fraction, Fraction], set[Fraction]] = {}
    for played in performance.notes:
        meter = played.bar.meter
        if meter.free:
            continue
        beat = meter.beat_length if meter.compound else CROTCHET
        in_bar = (played.beat - 1) * meter.beat_length
        within = in_bar % beat
        onsets_in.setdefault((played.onset - within, beat), set()).add(within / beat)
    knots: list[tuple[Fraction, float]] = []
    for (start, beat), onsets in onsets_in.items():
        inner = _compound(lilt, onsets) if beat != CROTCHET else _simple(lilt, onsets)
        ends = ((Fraction(0), 0.0), *inner, (Fraction(1), 1.0))
        knots += [(start + at * beat, float(start) + to * float(beat)) for at, to in ends]
    return Warp(knots)


def _simple(lilt: Lilt, onsets: set[Fraction]) -> tuple[tuple[Fraction, float], ...]:
    """A crotchet's beat. Triplets and snaps keep their shape."""
    if _HALF in onsets and all(4 % each.denominator == 0 for each in onsets):
        return ((_HALF, lilt.even / (1 + lilt.even)),)
    if onsets <= {Fraction(0), _THREE_QUARTERS}:
        return ((_THREE_QUARTERS, lilt.dotted / (1 + lilt.dotted)),)
    return ()


def _compound(lilt: Lilt, onsets: set[Fraction]) -> tuple[tuple[Fraction, float], ...]:
    """A dotted crotchet's beat; crotchet and quaver keep two to one, about."""
    first, second, third = (share / sum(lilt.compound) for share in lilt.compound)
    if _THIRD in onsets:
        return ((_THIRD, first), (_TWO_THIRDS, first + second))
    if _TWO_THIRDS in onsets:
        return ((_TWO_THIRDS, 1 - third),)
    return ()
