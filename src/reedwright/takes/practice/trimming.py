"""Where a take begins and ends once silence, talk and false starts around it are left out.

Levels are in dBFS, one for each `HOP` seconds of the take. Public: `Trim`, `trimmed`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.model import Following, PassageKind

Array32 = npt.NDArray[np.float32]

HOP = 0.01  # seconds
LEAD = 0.2  # seconds before the first sound
RING = 0.3  # seconds after the last, where it is not known what it dies away to
LONGEST_RING = 2.5  # seconds in which a note dies away in a room
SHORTEST_SOUND = 0.05  # seconds: shorter is a knock
_FLOOR_PERCENT, _LOUD_PERCENT = 10, 95  # of the take's hops are under the floor, under the loud
_OVER_FLOOR = 6.0  # dB: this much over the noise is sound
_UNDER_LOUD, _DEEPEST = 20.0, 45.0  # dB: sound lies no deeper under the loud than between these
_DIED_AWAY = 3.0  # dB over the noise


class Trim(NamedTuple):
    """What is kept, in seconds of the take."""

    start: float
    end: float


def trimmed(levels: Array32, following: Following | None) -> Trim:
    """From shortly before the first note to after the last has died away.

    Without a following the first and last sound that stands out from the noise count as
    notes. A take of nothing but silence stays whole.
    """
    duration = len(levels) * HOP
    if following is None or not following.notes:
        return _by_level(levels, duration)
    played = [note for note in following.notes if note.was_heard] or list(following.notes)
    first = min(note.start for note in played)
    last = max(note.end for note in played)
    others = [each for each in following.passages if each.kind is not PassageKind.SILENCE]
    before = [
        each.end for each in others if each.kind is not PassageKind.TUNE and each.end <= first + HOP
    ]
    after = [
        each.start
        for each in others
        if each.kind is not PassageKind.TUNE and each.start >= last - HOP
    ]
    start = max(0.0, first - LEAD, *(min(first, end) for end in before))
    end = min(duration, _died_away(levels, last), *(max(last, begin) for begin in after))
    return Trim(start, end)


def _by_level(levels: Array32, duration: float) -> Trim:
    if not len(levels):
        return Trim(0.0, duration)
    floor, loud = np.percentile(levels, [_FLOOR_PERCENT, _LOUD_PERCENT])
    over = min(max(floor + _OVER_FLOOR, loud - _DEEPEST), loud - _UNDER_LOUD)
    run = round(SHORTEST_SOUND / HOP)
    sounding = (levels > over).astype(np.float64)
    # Where a whole run of hops sounds: its first hop.
    whole = np.flatnonzero(np.convolve(sounding, np.ones(run), "valid") > run - 0.5)
    if not len(whole) or not np.isfinite(over):
        return Trim(0.0, duration)
    first, last = int(whole[0]), int(whole[-1]) + run
    return Trim(max(0.0, first * HOP - LEAD), min(duration, last * HOP + RING))


def _died_away(levels: Array32, last: float) -> float:
    """When what rings on after `last` has sunk into the noise, or is stopped by new sound."""
    floor, loud = np.percentile(levels, [_FLOOR_PERCENT, _LOUD_PERCENT])
    silent = max(float(floor) + _DIED_AWAY, float(loud) - _DEEPEST - 15.0)
    first = round(last / HOP)
    for hop in range(first, min(len(levels), first + round(LONGEST_RING / HOP))):
        if levels[hop] <= silent:
            return hop * HOP + 0.1
    return last + LONGEST_RING
