"""Which reeds sound in a held stretch: the peaks of its spectrum against combs of partials.

A comb rewards what lies on a pitch's partials and punishes what lies midway between them, so that
neither the octave above nor the one below wins (the idea of SWIPE: Camacho and Harris 2008, A
sawtooth waveform inspired pitch estimator for speech and music). What one comb leaves over is
laid against the combs again: a second reed must explain most of it.

Two reeds whose partials all lie together (unison, octave, twelfth) look like one here; the beats
tell them apart (`pairs`).

Public: `reeds_in`, `Found`, `spectrum_of`, `Peaks`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.workshop.measuring.partials import HIGHEST, Array64

LOWEST_PITCH, HIGHEST_PITCH = 68.0, 4_300.0  # Hz: under low C's octave below; over high A's hole 10
Mask = npt.NDArray[np.bool_]

_LOOK = 0.4  # seconds looked at in one spectrum; longer ones are averaged
_BOTTOM = 60.0  # Hz
_ABOVE = 10 ** (14 / 10)  # times the noise around it that a peak must reach in power
_RANGE = 10 ** (-55 / 10)  # of the highest peak's power: less is no peak
_AROUND = 300.0  # Hz over which noise is looked at
_LOW_SHARE = 0.3  # of the bins: lines stand on fewer than the rest
_PARTIALS = 12
_NEAR = 35.0  # cents within which a peak belongs to a partial
_DIVISORS = 8  # a peak may be a partial up to this one
_BEGUN = 0.5  # how much a missing first partial counts: a phone may not hear that of a low reed
_SECOND_LEVEL = 10 ** (-20 / 10)  # of the first reed's power: less is no second reed
_SECOND_SHARE = 0.6  # of what the first reed leaves over
_DIES = 3.0  # dB from one half to the other, beside the other reed
_LEAST_CLEAR = 0.5  # of the peaks' power that the combs must explain


class Peaks(NamedTuple):
    """Peaks of a spectrum: `hz` and `power` (of a sine at full scale: 0.5)."""

    hz: Array64
    power: Array64


class Found(NamedTuple):
    """The pitches that sound, lower first (none, one or two), and how much of the sound they are.

    `clear`: the share of the peaks' power; `noise`: power of what is no partial of anything,
    from 60 Hz up, against the whole.
    """

    hz: tuple[float, ...]
    clear: float
    noise: float


def spectrum_of(sound: Array64, rate: float, look: float = _LOOK) -> tuple[Array64, Array64]:
    """Hz and power density (power in one Hz) of a stretch, averaged over windows of `look`."""
    size = min(len(sound), round(look * rate))
    padded = 1 << int(size - 1).bit_length() + 1
    window = np.hanning(size + 2)[1:-1]
    hop = max(1, size // 2)
    frames = np.lib.stride_tricks.sliding_window_view(sound, size)[::hop]
    power = np.zeros(padded // 2 + 1)
    for frame in frames:
        power += np.abs(np.fft.rfft(frame * window, padded)) ** 2
    density = 2 * power / len(frames) / (rate * np.sum(window**2))
    return np.fft.rfftfreq(padded, 1 / rate).astype(np.float64), density


def peaks_of(sound: Array64, rate: float) -> tuple[Peaks, float]:
    """The peaks that stand clear of the noise, from low to high, and the noise's power."""
    hz, density = spectrum_of(sound, rate)
    step = hz[1]
    top = min(HIGHEST, 0.45 * rate)
    noise = _noise(hz, density)
    beneath = float(noise[(hz > _BOTTOM) & (hz < top)].sum() * step)
    highest = (density[1:-1] > density[:-2]) & (density[1:-1] >= density[2:])
    place = np.flatnonzero(highest) + 1
    place = place[(hz[place] > _BOTTOM) & (hz[place] < top)]
    if not len(place):
        return Peaks(np.zeros(0), np.zeros(0)), beneath
    # A lobe of the window holds the power of its line.
    size = min(len(sound), round(_LOOK * rate))
    lobe = 1.5 * rate / size  # noise bandwidth of a Hann window
    clear = density[place] > np.maximum(_ABOVE * noise[place], _RANGE * density[place].max())
    place = place[clear]
    left, mid, right = (np.log(density[place + k] + 1e-30) for k in (-1, 0, 1))
    bow = left - 2 * mid + right
    off = np.clip(0.5 * (left - right) / np.where(bow < 0, bow, -1), -0.5, 0.5)
    return Peaks(hz[place] + off * step, density[place] * lobe), beneath


def _noise(hz: Array64, density: Array64) -> Array64:
    """The noise's density at every frequency: the low bins around it, put right to the mean."""
    width = max(8, round(_AROUND / hz[1]))
    count = max(1, len(density) // width)
    parts = np.array_split(density, count)
    # The quantile of an exponential distribution, against its mean.
    low = np.array([np.quantile(part, _LOW_SHARE) for part in parts]) / -np.log(1 - _LOW_SHARE)
    middles = np.cumsum([len(part) for part in parts]) - width / 2
    found: Array64 = np.interp(np.arange(len(density)), middles, low)
    return found + 1e-16


def reeds_in(sound: Array64, rate: float) -> Found:
    """The one or two reeds that sound in a held stretch of shape (frames,), 0.1 s at least."""
    peaks, beneath = peaks_of(sound, rate)
    whole = float(np.mean(sound**2)) + 1e-16
    if not len(peaks.hz):
        return Found((), 0.0, 1.0)
    near = 1.0 / min(_LOOK, len(sound) / rate)  # Hz: half of what the window parts
    every = np.ones(len(peaks.hz), dtype=np.bool_)
    first = _best(peaks, every, near)
    if first is None:
        return Found((), 0.0, 1.0)
    rest = ~_claimed(peaks.hz, first, near)
    total = float(peaks.power.sum())
    held = float(peaks.power[~rest].sum())
    found = [first]
    second = _best(peaks, rest, near) if rest.any() else None
    if second is not None:
        theirs = rest & _claimed(peaks.hz, second, near)
        explained = float(peaks.power[theirs].sum())
        loud = explained > _SECOND_LEVEL * held
        most = explained > _SECOND_SHARE * (total - held)
        if loud and most and np.any(np.rint(peaks.hz[theirs] / second) <= 2):
            found = _held_on(sound, rate, (first, second), (peaks.hz[~rest], peaks.hz[theirs]))
            held += explained
    clear = held / total
    noise = float(np.clip(beneath / whole, 1e-9, 1))
    if clear < _LEAST_CLEAR:
        return Found((), clear, noise)
    return Found(tuple(sorted(found)), clear, noise)


def _held_on(
    sound: Array64, rate: float, pitches: tuple[float, float], lines: tuple[Array64, Array64]
) -> list[float]:
    """Those of two reeds that are held. One that dies away beside the other is in the room only.

    `lines` (Hz) are the peaks of each.
    """
    half = len(sound) // 2
    levels = []
    for part in (sound[:half], sound[half:]):
        hz, density = spectrum_of(part, rate)
        place = [np.rint(each / hz[1]).astype(np.int64) for each in lines]
        levels.append([10 * np.log10(density[each].sum() + 1e-16) for each in place])
    before, after = levels
    sinking = (before[1] - after[1]) - (before[0] - after[0])  # dB of the second beside the first
    if sinking > _DIES:
        return [pitches[0]]
    return [pitches[1]] if sinking < -_DIES else list(pitches)


def _best(peaks: Peaks, rest: Mask, near: float) -> float | None:
    """The pitch whose comb fits best the peaks that no other reed has claimed."""
    strength = np.where(rest, np.sqrt(np.sqrt(peaks.power)), 0.0)
    strongest = np.argsort(-strength)[: min(20, int(rest.sum()))]
    candidates = (peaks.hz[strongest, None] / np.arange(1, _DIVISORS + 1)).ravel()
    candidates = candidates[(candidates >= LOWEST_PITCH) & (candidates <= HIGHEST_PITCH)]
    if not len(candidates):
        return None
    scores = [_score(each, peaks.hz, strength, near) for each in candidates]
    best = int(np.argmax(scores))
    if scores[best] <= 0:
        return None
    only = Peaks(peaks.hz[rest], peaks.power[rest])
    return _set_right(float(candidates[best]), only, near)


def _score(hz: float, at: Array64, strength: Array64, near: float) -> float:
    """How well a comb fits. `strength` is 0 of peaks that another reed has claimed."""
    count = min(_PARTIALS, int(HIGHEST / hz))
    number = at / hz
    length = 0.0
    found, between, missing = np.zeros(count + 2), 0.0, np.zeros(count + 2, dtype=np.bool_)
    for k in range(1, count + 1):
        weight = k**-0.5
        length += weight * weight
        tolerance = max(k * hz * (2 ** (_NEAR / 1200) - 1), near) / hz
        mine = np.abs(number - k) < min(tolerance, 0.25)
        found[k], missing[k] = weight * _strongest(mine, strength), not mine.any()
        between += weight * _strongest(np.abs(number - k + 0.5) < 0.25, strength)
    # A reed has all of its partials. Where one is missing between two that are there, they are
    # rather those of two reeds whose common measure this pitch is.
    gaps = np.minimum(found[:-2], found[2:])[missing[1:-1]].sum()
    begun = _BEGUN * found[2] if missing[1] else 0.0
    return float((found.sum() - 0.5 * between - gaps - begun) / np.sqrt(length))


def _strongest(chosen: Mask, strength: Array64) -> float:
    return float(strength[chosen].max()) if chosen.any() else 0.0


def _claimed(at: Array64, hz: float, near: float) -> Mask:
    """Which peaks are partials of this pitch."""
    number = np.maximum(1, np.rint(at / hz))
    tolerance = np.minimum(np.maximum(number * hz * (2 ** (_NEAR / 1200) - 1), near), 0.3 * hz)
    claimed: Mask = np.abs(at - number * hz) < tolerance
    return claimed


def _set_right(hz: float, peaks: Peaks, near: float) -> float:
    """The pitch that the peaks of the first partials say together."""
    mine = _claimed(peaks.hz, hz, near)
    number = np.maximum(1, np.rint(peaks.hz / hz))
    mine &= number <= _PARTIALS
    weight = peaks.power[mine]
    if not len(weight):
        return hz
    return float(
        np.sum(weight * peaks.hz[mine] * number[mine]) / np.sum(weight * number[mine] ** 2)
    )
