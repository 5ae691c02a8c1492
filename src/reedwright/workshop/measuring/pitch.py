"""The pitch of a held reed to a fraction of a cent, and how sure it is.

A free reed's partials are exact multiples of its pitch, so all of them turn with one phase. Each is
cut out, turned back by its share of the common phase, and what is left of its turning, weighed by
its power over the noise and by the square of its number (as in the best estimate from harmonics in
white noise), sets the common phase right. The pitch is the slope of that phase over the held part
by least squares: with a pitch that moves, its mean over the held part.

The standard error is that of the slope with errors that hang together in time (Newey and West
1987, A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent
covariance matrix): it covers noise and what the reed's own wandering does to the mean.

Public: `Pitch`, `pitch_of`, `PhaseCourse`, `phase_course`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from reedwright.workshop.measuring.partials import Array64, Complex, Strand, Stretch

STEP = 0.010  # seconds between the moments at which the phase is read
MOST_PARTIALS = 16
_WIDE = 250.0  # Hz: half of the widest band about a partial
_NARROW, _NARROW_SHARE = 30.0, 0.04  # Hz, or of the pitch (68 cents): where turning is first read
_ROUNDS = 3
_LOCAL = 5  # steps over which a momentary pitch is taken
_FEW = 4.0
LEAST = 0.005  # cents: no error is given as smaller


class Pitch(NamedTuple):
    """`hz`, its standard error in cents, and how far it moves (standard deviation, cents)."""

    hz: float
    uncertainty: float
    wander: float


class PhaseCourse(NamedTuple):
    """The common phase of one reed's partials over its held part.

    `times` in seconds, `turns` in whole swings of the reed (so its slope is the pitch in Hz);
    `partials`: the numbers that were used, `values` their complex amplitudes with the common phase
    taken out, shape (partials, times), `noise` the power of noise in each of these.
    """

    times: Array64
    turns: Array64
    partials: tuple[int, ...]
    values: Complex
    noise: Array64


def phase_course(
    stretch: Stretch,
    hz: float,
    first: float,
    last: float,
    partials: Sequence[tuple[int, float]] | None = None,
) -> PhaseCourse:
    """The phase of the reed near `hz` from `first` to `last` (seconds in the stretch).

    `partials`: number and half band in Hz of those that may be used; all that lie under the top
    with the widest bands, unless given.
    """
    if partials is None:
        half = min(0.45 * hz, _WIDE)
        count = max(1, min(MOST_PARTIALS, int((stretch.top - half) / hz)))
        partials = [(k, half) for k in range(1, count + 1)]
    reach = max(half for _, half in partials)
    strands = [stretch.strand(k * hz, half, reach).between(first, last) for k, half in partials]
    numbers = np.array([k for k, _ in partials], dtype=np.float64)
    times = strands[0].times
    whole = np.stack([strand.values for strand in strands])
    turned = _first_turning(strands, numbers, hz)
    steps = max(2, round((last - first) / STEP))
    edges = np.searchsorted(times, np.linspace(first, last, steps + 1)[1:-1])
    pieces = [p for p in np.split(np.arange(len(times)), edges) if len(p)]
    starts = np.array([piece[0] for piece in pieces])
    sizes = np.array([len(piece) for piece in pieces])
    middles = np.add.reduceat(times, starts) / sizes
    noise = np.ones(len(numbers))
    for _ in range(_ROUNDS):
        back = whole * np.exp(-2j * np.pi * numbers[:, None] * turned)
        values = np.add.reduceat(back, starts, axis=1) / sizes
        noise = _noise(values)
        weight = numbers**2 * np.mean(np.abs(values) ** 2, axis=1) / noise
        # Each partial has a phase of its own, which is constant.
        own = np.exp(-1j * np.angle(values.mean(axis=1)))
        off = np.angle(values * own[:, None]) / (2 * np.pi * numbers[:, None])
        power = np.abs(values) ** 2
        local = weight[:, None] * power / np.mean(power, axis=1, keepdims=True)
        correction = np.sum(local * off, axis=0) / np.sum(local, axis=0)
        turned = turned + np.interp(times, middles, correction)
    turns = np.add.reduceat(turned, starts) / sizes + hz * middles
    back = whole * np.exp(-2j * np.pi * numbers[:, None] * turned)
    values = np.add.reduceat(back, starts, axis=1) / sizes
    return PhaseCourse(middles, turns, tuple(int(k) for k in numbers), values, noise)


def _first_turning(strands: Sequence[Strand], numbers: Array64, hz: float) -> Array64:
    """How many swings ahead of `hz` the reed is, by its clearest low partial alone."""
    times = strands[0].times
    if len(times) < 4:
        return np.zeros(len(times))
    low = [k for k, number in enumerate(numbers) if number <= 4] or [0]
    strongest = max(low, key=lambda k: float(np.sum(np.abs(strands[k].values) ** 2)))
    rate = 1 / (times[1] - times[0])
    narrow = max(_NARROW, _NARROW_SHARE * hz)
    size = max(1, min((len(times) - 1) // 2, round(rate / (2 * narrow))))
    window = np.hanning(2 * size + 1)
    smooth = np.convolve(strands[strongest].values, window / window.sum(), mode="same")
    turned: Array64 = np.unwrap(np.angle(smooth)) / (2 * np.pi * numbers[strongest])
    return turned


def _noise(values: Complex) -> Array64:
    """Power of the noise of each row: what does not go on smoothly from moment to moment."""
    if values.shape[1] < 4:
        return np.asarray(1e-12 + 0.01 * np.mean(np.abs(values) ** 2, axis=1))
    rough = values[:, 2:] - 2 * values[:, 1:-1] + values[:, :-2]
    least = 1e-7 * np.mean(np.abs(values) ** 2, axis=1) + 1e-20
    return np.asarray(np.maximum(np.median(np.abs(rough) ** 2, axis=1) / (6 * np.log(2)), least))


def pitch_of(course: PhaseCourse) -> Pitch:
    """Pitch, error and wander from a phase course of at least three moments."""
    times, turns = course.times, course.turns
    slope, error = slope_with_error(times, turns)
    cents = 1200 / np.log(2) / slope
    return Pitch(slope, float(max(LEAST, cents * error)), _wander(times, turns, slope))


def slope_with_error(times: Array64, values: Array64) -> tuple[float, float]:
    """Slope by least squares and its standard error where errors hang together in time."""
    count = len(times)
    centred = times - times.mean()
    spread = float(np.sum(centred**2))
    slope = float(np.sum(centred * values) / spread)
    left = values - values.mean() - slope * centred
    score = centred * left
    lags = min(count // 3, int(np.ceil(1.5 * count**0.5)))
    total = float(np.sum(score**2))
    for lag in range(1, lags + 1):
        total += 2 * (1 - lag / (lags + 1)) * float(np.sum(score[lag:] * score[:-lag]))
    plain = float(np.sum(left**2)) / max(1, count - 2) * spread
    total = max(total * count / max(1, count - 2), plain)
    # The estimate is too small where there are few moments: put right by trial on made reeds.
    return slope, (1 + _FEW / count) * float(np.sqrt(total)) / spread


def _wander(times: Array64, turns: Array64, slope: float) -> float:
    """Standard deviation of the momentary pitch in cents, without what noise puts into it."""
    if len(times) < 3 * _LOCAL:
        return 0.0
    span = times[_LOCAL:] - times[:-_LOCAL]
    local = (turns[_LOCAL:] - turns[:-_LOCAL]) / span
    left = turns - slope * times  # moments are not quite evenly apart
    rough = left[2:] - 2 * left[1:-1] + left[:-2]
    noise = float(np.median(np.abs(rough)) / 0.6745) ** 2 / 6  # of one reading
    variance = float(np.mean((local - local.mean()) ** 2)) - 2 * noise / float(np.mean(span)) ** 2
    return float(1200 / np.log(2) / slope * np.sqrt(max(0.0, variance)))
