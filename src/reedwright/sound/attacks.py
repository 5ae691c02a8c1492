"""Attacks kept as quick as they were played when sound is stretched.

Stretching slows an attack down with all the rest; a player who plays slower tongues as quickly
as ever. So where a note begins out of a gap or a soft spot, the level of the stretched sound
is led along the rise as it was played, from a little before it to its top; from there on it
goes on as stretched. It is a gain alone, the same for all channels: pitch, phase and every
note's place stay as they are. What a slurred change of note does has no rise and is left alone.

Public: `attacks`, `with_attacks`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]
Array32 = npt.NDArray[np.float32]

HOP = 0.001  # seconds between levels
_WINDOW = 0.006  # seconds over which a level is taken
_OVER = 0.015  # seconds over which a rise is judged
LEAST_RISE = 4.0  # dB in that time: less is no attack
_DEEPEST = 40.0  # dB under the loud (95 % of the sound is softer): below it is noise
_APART = 0.045  # seconds between attacks
BEFORE = 0.005  # seconds before an attack that are kept, too
LONGEST = 0.060  # seconds until an attack's top
_BOTTOM = 0.03  # of the rise: there it begins
_TOP = 0.95  # of the highest level is the top
_LEAST_GAIN, _MOST_GAIN = 0.1, 3.0
_FLOOR = 1e-6  # of full scale


class Attack(NamedTuple):
    """From where the level begins to rise to its top, in hops of `HOP` seconds."""

    start: int
    top: int


def attacks(levels: Array) -> list[Attack]:
    """The attacks in a track of levels (linear, one each `HOP` seconds)."""
    step = round(_OVER / HOP)
    decibels = 20 * np.log10(np.maximum(levels, _FLOOR))
    if len(levels) <= 2 * step:
        return []
    rise = np.zeros(len(levels))
    rise[step // 2 : len(levels) - (step - step // 2)] = decibels[step:] - decibels[:-step]
    loud = float(np.percentile(decibels, 95)) - _DEEPEST
    apart = round(_APART / HOP)
    found: list[Attack] = []
    for k in _peaks(rise, apart):
        after = k + step - step // 2
        if rise[k] < LEAST_RISE or decibels[min(after, len(levels) - 1)] < loud:
            continue
        ahead = levels[k : k + round(LONGEST / HOP)]
        top = k + int(np.argmax(ahead >= _TOP * ahead.max()))
        first = max(0, k - step)
        rising = levels[first : k + 1]
        low = rising.min() + _BOTTOM * (levels[top] - rising.min())
        start = first + int(np.flatnonzero(rising <= low)[-1]) if (rising <= low).any() else first
        found.append(Attack(start, max(top, start + 1)))
    return found


def _peaks(rise: Array, apart: int) -> list[int]:
    """Where `rise` is highest within `apart` hops either way."""
    from scipy.ndimage import maximum_filter1d

    highest = maximum_filter1d(rise, 2 * apart + 1)
    return [int(k) for k in np.flatnonzero((rise == highest) & (rise >= LEAST_RISE))]


def with_attacks(before: Array32, after: Array32, rate: int, speed: float) -> Array32:
    """`after`, which is `before` stretched to `speed` (under 1), with the attacks of `before`.

    Both of shape (frames, channels).
    """
    played, stretched = levels_of(before, rate), levels_of(after, rate)
    found = attacks(played)
    if not found or not len(stretched):
        return after
    gain = np.ones(len(stretched))
    ends = [each.start for each in found[1:]] + [len(played)]
    for attack, end in zip(found, ends, strict=True):
        _lead(gain, attack, end, played, stretched, speed)
    smooth = np.convolve(np.pad(gain, 1, mode="edge"), [0.25, 0.5, 0.25], "valid")
    places = np.arange(len(after)) / (HOP * rate)
    each_frame = np.interp(places, np.arange(len(smooth)) + 0.5, smooth).astype(np.float32)
    led: Array32 = after * each_frame[:, None]
    return led


def _lead(
    gain: Array, attack: Attack, end: int, played: Array, stretched: Array, speed: float
) -> None:
    """Set the gain around one attack, so that the level rises as played."""
    length = min(attack.top, end) - attack.start
    before = round(BEFORE / HOP)
    centre = attack.start / speed
    first = max(0, int(np.ceil(centre - before / speed)))
    last = min(len(stretched), int(centre + length / speed) + 1)
    if last <= first:
        return
    time = np.arange(first, last) - centre
    place = np.where(
        time < 0,
        np.minimum(np.maximum(time, -before), time * speed),
        np.maximum(np.minimum(time, length), time * speed),
    )
    hops = np.arange(len(played))
    wanted = np.interp(attack.start + place, hops, played)
    there = np.maximum(stretched[first:last], _FLOOR)
    gain[first:last] = np.clip(wanted / there, _LEAST_GAIN, _MOST_GAIN)


def levels_of(sound: Array32, rate: int) -> Array:
    """The root of the mean power in `_WINDOW` seconds around the middle of each hop."""
    power = np.square(sound, dtype=np.float64).mean(axis=1)
    summed = np.concatenate([[0.0], np.cumsum(power)])
    hop = HOP * rate
    middles = (np.arange(int(len(sound) / hop)) + 0.5) * hop
    half = _WINDOW * rate / 2
    first = np.clip((middles - half).astype(int), 0, len(sound))
    last = np.clip((middles + half).astype(int), 0, len(sound))
    levels: Array = np.sqrt((summed[last] - summed[first]) / np.maximum(last - first, 1))
    return levels
