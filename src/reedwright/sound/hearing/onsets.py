"""When a note begins: where the level of its own partials starts to rise.

Public: `onset_near`, `renewals`, `rise_of`, `ending`.
"""

from __future__ import annotations

import numpy as np

from reedwright.sound.hearing.strands import FINE, QUIET, Array64, Strand

# An onset is where the rising amplitude has come `_PART` of its way up. Steps are of `FINE`.
_PART = 0.1
_BEFORE, _AFTER = 0.040, 0.030  # seconds about a change of pitch that its onset is sought in
_PLATEAU = 0.050  # seconds after it in which the note is up
_PLAIN_RISE = 1.35  # times: less than this is no rise to place an onset by
_LAG = 0.008  # seconds the change of pitch is noticed late where there is no rise
_LEAD = 0.007  # seconds that the window and the reed's own slowness make it late

_SPAN = 4  # steps either side over which a rise is taken: 20 ms in all
_FALL = 4.5  # dB down and up again that part two notes of one pitch
_MEMORY = 200  # steps (half a second) before a rise that it is compared with
_ECHO = 10.0  # dB: a note this much under the one before it is the room's
_SETTLING = 8  # steps after a rise that the new level is taken from
_LONGEST_AGO = 0.030  # seconds between two renewals at least
_FULL_RISE = 12.0  # dB, where novelty is 1

_END_FALL = 7.0  # dB
_END_LAG = 0.006  # seconds that half of that fall comes after the breath stopped
_END_WITHIN = 0.040  # seconds: a fall as quick as this is the player's, not the room's


def rise_of(strand: Strand) -> Array64:
    """At each step how many dB the level rises around it, in 20 ms."""
    level = strand.decibels
    rise = np.zeros(len(level))
    if len(level) > 2 * _SPAN:
        rise[_SPAN:-_SPAN] = level[2 * _SPAN :] - level[: -2 * _SPAN]
    return np.maximum(rise, 0)


def onset_near(strand: Strand, change: float) -> tuple[float, float]:
    """The onset of a note whose pitch was noticed from `change` on, and its attack (0 to 1)."""
    low = strand.index(change - _BEFORE)
    high = strand.index(change + _AFTER)
    up = strand.amplitude[high : strand.index(change + _PLATEAU) + 1]
    return _crossing(strand, low, high, float(np.median(up)), change - _LAG)


def _crossing(
    strand: Strand, low: int, high: int, plateau: float, otherwise: float
) -> tuple[float, float]:
    amplitude = strand.amplitude
    between = amplitude[low : high + 1]
    bottom = low + int(between.argmin())
    floor = float(amplitude[bottom])
    if plateau <= max(_PLAIN_RISE * floor, QUIET):
        return otherwise, 0.0
    over = np.flatnonzero(amplitude[bottom : high + 12] > floor + 0.7 * (plateau - floor))
    top = bottom + int(over[0]) if len(over) else high
    wanted = floor + _PART * (plateau - floor)
    under = np.flatnonzero(amplitude[bottom : top + 1] <= wanted)
    k = bottom + int(under[-1])
    if k + 1 < len(amplitude) and amplitude[k + 1] > amplitude[k]:
        place = k + (wanted - amplitude[k]) / (amplitude[k + 1] - amplitude[k])
    else:
        place = float(k)
    attack = 20 * np.log10(plateau / max(floor, QUIET)) / _FULL_RISE
    return strand.time(place) - _LEAD, float(np.clip(attack, 0, 1))


def renewals(strand: Strand, start: float, end: float) -> list[tuple[float, float]]:
    """Onsets (and attacks) of the same pitch struck anew between `start` and `end`.

    The level must rise by `_FALL` dB within 20 ms (a hand's tremolo is as deep, but takes four
    times as long), out of a dip as deep or to well over all that was before, and the new note
    must not be a mere echo of the one before.
    """
    level, rise = strand.decibels, rise_of(strand)
    first, last = strand.index(start), strand.index(end)
    found: list[tuple[float, float]] = []
    since = first
    for peak in _peaks(rise, first, last):
        low = max(first, peak - _SPAN)
        bottom = low + int(level[low : peak + 1].argmin())
        high = min(len(level) - 1, peak + _SPAN)
        plateau = float(np.median(level[high : high + _SETTLING]))
        held = float(level[min(bottom, max(since, bottom - _MEMORY)) : bottom + 1].max())
        dipped = held - level[bottom] >= _FALL and plateau >= held - _ECHO
        if not dipped and plateau - held < _FALL:
            continue
        amplitude = float(np.median(strand.amplitude[high : high + _SETTLING]))
        time, attack = _crossing(strand, max(first, bottom - 2), high, amplitude, strand.time(peak))
        if attack > 0 and (not found or time - found[-1][0] >= _LONGEST_AGO):
            found.append((time, attack))
            since = peak
    return found


def _peaks(rise: Array64, first: int, last: int) -> list[int]:
    """Where the rise is greatest in each stretch of at least `_FALL` dB."""
    over = np.flatnonzero(rise[first:last] >= _FALL) + first
    parts = np.split(over, np.flatnonzero(np.diff(over) > 1) + 1) if len(over) else []
    return [int(part[rise[part].argmax()]) for part in parts]


def ending(strand: Strand, start: float, end: float) -> float:
    """Where a note that starts at `start` stops: its last quick fall that it does not get over.

    `end` where there is no such fall.
    """
    level = strand.decibels
    first, last = strand.index(start + 0.015), strand.index(end)
    steps = round(_END_WITHIN / FINE)
    if last - first < 3:
        return end
    part = level[first : last + 1]
    # The highest that is still to come, and the highest of just before.
    coming = np.maximum.accumulate(part[::-1])[::-1]
    earlier = np.concatenate([np.full(steps, -np.inf), part])
    held = np.lib.stride_tricks.sliding_window_view(earlier, steps + 1).max(axis=1)
    fallen = np.flatnonzero(held - coming >= _END_FALL)
    if not len(fallen):
        return end
    k = int(fallen[0])
    down = np.flatnonzero(part[max(0, k - steps) : k + 1] >= held[k] - _END_FALL / 2)
    stop = strand.time(first + max(0, k - steps) + int(down[-1])) - _END_LAG
    return max(stop, start + FINE)
