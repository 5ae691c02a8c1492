"""The lilt of a playing: where in the beat the notes between beats really fall.

Hornpipes written in dotted pairs are played nearly as triplets, reels swing, jigs lean on the
first quaver. What a first path matched shows it: for each fraction of a beat the median of where
its notes fall between the beats around them.

Public: `swing_of`, `swung`.
"""

from __future__ import annotations

from collections.abc import Sequence as Several
from fractions import Fraction

import numpy as np
import numpy.typing as npt

from reedwright.takes.following.path import Match
from reedwright.takes.following.score import Score

Floats = npt.NDArray[np.float32]

_FEWEST = 6  # beats that must show it
_MOST = 0.25  # of a beat that a note may be moved
_SLIGHT = 0.02  # of a beat: less is not worth another look


def swing_of(
    score: Score, matches: Several[Match], start: npt.NDArray[np.float64]
) -> Floats | None:
    """By how many quarters each place sounds later than written; None where it is straight."""
    beats = [_beat(score, k) for k in range(len(score.places))]
    found: dict[Fraction, list[float]] = {}
    begin: tuple[int, float] | None = None  # index among matches, seconds
    inside: list[tuple[Fraction, float]] = []
    expected = Fraction(0)
    for k, match in enumerate(matches):
        place = score.places[match.place]
        if match.edge < 0:
            begin, inside = None, []
        elif begin is not None:
            expected += sum((step.quarters for step in score.steps[match.edge]), Fraction(0))
        if place.is_grace:
            continue
        length, fraction = beats[match.place]
        time = float(start[match.heard])
        if fraction == 0:
            if begin is not None and expected == length and time > begin[1]:
                for part, at in inside:
                    found.setdefault(part, []).append((at - begin[1]) / (time - begin[1]))
            begin, inside, expected = (k, time), [], Fraction(0)
        elif begin is not None and expected == fraction * length:
            inside.append((fraction, time))
    moved = {
        fraction: float(np.clip(np.median(seen) - float(fraction), -_MOST, _MOST))
        for fraction, seen in found.items()
        if len(seen) >= _FEWEST
    }
    if not moved or max(map(abs, moved.values())) < _SLIGHT:
        return None
    late = [moved.get(fraction, 0.0) * float(length) for length, fraction in beats]
    return np.array(late, dtype=np.float32)


def swung(score: Score, late: Floats) -> Floats:
    """The length of each edge with the lilt."""
    moved = score.quarters + late[score.target] - late[score.source]
    return np.where(score.quarters > 0, np.maximum(moved, np.float32(0.02)), 0).astype(np.float32)


def _beat(score: Score, index: int) -> tuple[Fraction, Fraction]:
    """The length of the beat that a place stands in, and how far into it, as a share."""
    place = score.places[index]
    meter = score.bars[place.bar].meter
    beat = meter.beat_length
    offset = place.offset
    full = meter.bar_length
    if full is not None and score.bars[place.bar].number == 0:
        offset += max(Fraction(0), full - score.lengths[place.bar])
    return beat, (offset % beat) / beat
