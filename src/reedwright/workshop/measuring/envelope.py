"""How a tone begins, holds and ends: the level of its own partials from moment to moment.

Public: `Envelope`, `envelope_of`, `Bounds`, `bounds_of`, `parts_of`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.workshop.measuring.partials import Array64, Stretch

_HALF = 60.0  # Hz on either side of a partial: steps of a hundredth of a second are seen
_SWAY = 0.035  # of a partial's frequency, 60 cents: so far may vibrato carry it
_PARTIALS = 8
_USED = 10 ** (-40 / 20)  # of the strongest partial: fainter ones are left out
_TENTH, _NINE = 0.1, 0.9  # of the held level: the attack's usual bounds (common practice)
_HALFWAY = 0.5
_ENDED = 0.3  # of the held level (-10 dB): the room rings on after a tone
_LOUDER = 1.4  # of the held level: another tone's
_JOINING = 0.10  # seconds after a stretch's first moment until which one may go on in it
_DIP = 0.25  # of what is on both sides (-12 dB): below it a tone has begun anew
_SHALLOW, _LOUD, _QUICK = 0.4, 0.85, 0.025  # or from 0.4 to 0.85 of that in so many seconds
_DIP_SECONDS = 0.030
_LEAST_PART = 0.060  # seconds


class Envelope(NamedTuple):
    """`level`: amplitude of all partials together (root of their power); `even`: the same with
    each partial made equally strong, in which beats of two reeds leave no gap. At `times`."""

    times: Array64
    level: Array64
    even: Array64


class Bounds(NamedTuple):
    """Seconds in the stretch. `rise`: from a tenth to nine tenths of the held level."""

    start: float
    end: float
    rise: float
    held_from: float
    held_to: float


def envelope_of(stretch: Stretch, pitches: Sequence[float], first: float, last: float) -> Envelope:
    """Of the reeds at `pitches` (Hz), which are known to be held from `first` to `last`."""
    bands: list[tuple[float, float]] = []
    for hz in pitches:
        widest = 0.45 * min(pitches)
        count = max(1, min(_PARTIALS, int((stretch.top - _HALF) / hz)))
        bands += [(k * hz, min(max(_HALF, _SWAY * k * hz), widest)) for k in range(1, count + 1)]
    reach = max(half for _, half in bands)
    strands = [stretch.strand(at, half, reach) for at, half in bands]
    times = strands[0].times
    sizes = np.stack([np.abs(strand.values) for strand in strands])
    held = (times >= first) & (times <= last)
    usual = np.sqrt(np.mean(sizes[:, held] ** 2, axis=1)) + 1e-12
    used = usual > _USED * usual.max()
    level = np.sqrt(np.sum(sizes**2, axis=0))
    even = np.mean(sizes[used] / usual[used, None], axis=0)
    return Envelope(times, level, even)


def parts_of(envelope: Envelope, first: float, last: float) -> list[tuple[float, float]]:
    """The stretch from `first` to `last` (seconds) parted where the tone sinks and begins anew."""
    inside = (envelope.times >= first) & (envelope.times <= last)
    times, even = envelope.times[inside], envelope.even[inside]
    if len(times) < 8:
        return [(first, last)]
    before = np.maximum.accumulate(even)
    after = np.maximum.accumulate(even[::-1])[::-1]
    usual = np.minimum(before, after)
    parts, begin = [], first
    for a, b in _runs(even < _SHALLOW * usual):
        b = min(b, len(times) - 1)
        deep = times[a:b][even[a:b] < _DIP * usual[a:b]]
        anew = len(deep) > 0 and deep[-1] - deep[0] >= _DIP_SECONDS
        if not anew and times[b] - times[a] >= _DIP_SECONDS:
            # In a room the dip is filled, but a reed that speaks anew is quick.
            soon = int(np.searchsorted(times, times[b] + _QUICK))
            anew = bool(np.any(even[b:soon] > _LOUD * usual[b:soon].max()))
        if anew:
            parts.append((begin, float(times[a])))
            begin = float(times[b])
    parts.append((begin, last))
    return [part for part in parts if part[1] - part[0] >= _LEAST_PART]


def _runs(low: npt.NDArray[np.bool_]) -> list[tuple[int, int]]:
    edges = np.flatnonzero(np.diff(np.concatenate([[0], low.astype(np.int8), [0]])))
    return [(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def bounds_of(
    envelope: Envelope, first: float, last: float, early: float, late: float, joins: bool = False
) -> Bounds:
    """Start, end and attack of the tone that sounds from about `first` to `last`.

    It is looked for from `early` to `late`: beyond these other tones may sound. All in seconds.
    `joins`: another tone goes over into it.
    """
    times, level = envelope.times, envelope.level
    low, high = np.searchsorted(times, (early, late))
    middle = (times >= first + 0.3 * (last - first)) & (times <= last - 0.15 * (last - first))
    held = float(np.median(level[middle]))
    full = np.flatnonzero(level[low:high] >= _HALFWAY * held) + low
    if not len(full):
        return Bounds(first, last, 0.0, first, last)
    # What sounds before and after may share partials: so from the middle outwards.
    core = int(np.median(full))
    quiet = np.flatnonzero(level[low:core] < _TENTH * held)
    joined = min(core, max(low, int(np.searchsorted(times, first + _JOINING)))) if joins else low
    louder = np.flatnonzero(level[low:joined] > _LOUDER * held)
    if len(quiet):
        begin = low + int(quiet[-1])
    elif len(louder):  # an older tone that shares partials goes over into this one
        begin = low + int(louder[-1]) + 1
    else:  # where noise or an older tone hides the tenth, the lowest place stands for it
        begin = low + int(np.argmin(level[low : core + 1]))
    start = _crossing(times, level, begin, _TENTH * held)
    nine = np.flatnonzero(level[begin:high] >= _NINE * held)
    top = begin + int(nine[0]) if len(nine) else core
    risen = _crossing(times, level, top - 1, _NINE * held)
    soft = _runs(level[core:high] < _ENDED * held)
    ends = [
        core + a
        for a, b in soft
        if core + b >= high or times[core + b] - times[core + a] > _DIP_SECONDS
    ]
    end = min(last, float(times[min(high, len(times) - 1)]))
    if ends:
        end = _crossing(times, level, ends[0] - 1, _ENDED * held)
    falling = times[full[times[full] < end]]
    held_to = float(falling[-1]) if len(falling) else end
    return Bounds(start, end, max(0.0, risen - start), risen, held_to)


def _crossing(times: Array64, level: Array64, place: int, at: float) -> float:
    """Where the level passes `at` between a place and the next."""
    place = min(max(place, 0), len(times) - 2)
    left, right = float(level[place]), float(level[place + 1])
    share = (at - left) / (right - left) if right != left else 0.0
    step = float(times[place + 1] - times[place])
    return float(times[place]) + step * min(1.0, max(0.0, share))
