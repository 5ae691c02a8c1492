"""Beats and the places of notes in them: a tempo that drifts, a lilt, and notes on a grid.

Public: `fits_of`, `extended`, `Fit`.

How it works: for every likely length of beat, for beats in two and in three and for several
lilts, the likeliest course of places (first quaver, second quaver, triplet...) is found by
dynamic programming over the onsets. What a course costs is how far onsets lie from where
beat and lilt expect them, and how rare its moves are in old collections (`rhythms`). Each
state carries its own beat, which follows the player as it goes. All courses are worked out side
by side in arrays of shape (hypotheses, from place, to place).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.transcribing.rhythms import BEAT_TICKS, COMPOUND, SIMPLE, beat_moves

Array = npt.NDArray[np.float64]
PLACES = {SIMPLE: (0, 2, 3, 4, 6, 8, 9, 10), COMPOUND: (0, 3, 6, 9, 12, 15)}
"""Places in a beat that notes may have, in ticks."""

# Numbers without a source are our own judgement, tried on takes of other tunes.
BEATS = {SIMPLE: (0.22, 1.3), COMPOUND: (0.34, 1.6)}  # seconds that a beat may last
BEAT_STEP = 1.05  # from one hypothesis of the beat's length to the next
SWINGS = {SIMPLE: (1.0, 1.3, 1.65, 2.0), COMPOUND: (1.0, 1.12)}
"""First quaver to second in beats of two, first of three to the even one in beats of three."""
TIMING = 0.014  # seconds: the usual error of an onset, player and hearing together
TIMING_SHARE = 0.02  # and of the beat
MOST_COST = 10.0  # of one onset's error: what lies farther is a slip or a pause
PHASE_GAIN, BEAT_GAIN = 0.35, 0.08  # how soon the beat follows an onset that is off
MOST_SWING = 2.4  # beyond it a long-short pair is a dotted one
MOST_BEATS = 4  # between two onsets; more count as these
FIRST_LOOK = 170  # notes on which all hypotheses are tried
KEPT = 9  # hypotheses that are followed through the whole take
NEAR = 1.06  # two beats nearer than this ratio are one hypothesis


class Fit(NamedTuple):
    """Onsets on a grid. `ticks`: of each stroke, from some beat on. `errors` in seconds.
    `cost`: of the timing alone, the negative logarithm of likelihood. `beat` in seconds
    (the median), `beats` at each stroke."""

    family: str
    beat: float
    swing: float
    ticks: npt.NDArray[np.int64]
    errors: Array
    cost: float
    whole_cost: float
    beats: Array


def fits_of(
    onsets: Sequence[float], families: Collection[str] = (SIMPLE, COMPOUND), kept: int = KEPT
) -> list[Fit]:
    """The likeliest grids of onsets (seconds, rising), best first; in beats of these families."""
    times = np.asarray(onsets, dtype=np.float64)
    if len(times) < 2:
        return []
    first = max(0, (len(times) - FIRST_LOOK) // 2)
    look = times[first : first + FIRST_LOOK]
    tried: list[tuple[float, str, float, float]] = []
    for family in sorted(families):
        beats, swings = _hypotheses(family)
        costs, ends = _Course(family, look, beats, swings).costs()
        tried += [
            (float(c), family, float(b), float(s))
            for c, b, s in zip(costs, ends, swings, strict=True)
        ]
    tried.sort()
    chosen: list[tuple[float, str, float, float]] = []
    for entry in tried:
        if any(entry[1] == e[1] and 1 / NEAR < entry[2] / e[2] < NEAR for e in chosen):
            continue
        chosen.append(entry)
        if len(chosen) >= kept:
            break
    fits = [refined(_fit(family, times, beat, swing), times) for _, family, beat, swing in chosen]
    return sorted(fits, key=lambda fit: fit.whole_cost)


def extended(fit: Fit, onsets: Sequence[float]) -> Fit:
    """A grid found on a part of the onsets, for all of them."""
    return _fit(fit.family, np.asarray(onsets, dtype=np.float64), fit.beat, fit.swing)


def refined(fit: Fit, times: Array) -> Fit:
    """The same grid with its lilt measured from the notes."""
    swing = measured_swing(fit, times)
    if swing > MOST_SWING:  # a dotted rhythm, to be written so
        return _fit(fit.family, times, fit.beat, 1.0)
    if abs(swing / fit.swing - 1) < 0.03:
        return fit
    found = _fit(fit.family, times, fit.beat, swing)
    return found if found.whole_cost < fit.whole_cost else fit


def measured_swing(fit: Fit, times: Array) -> float:
    """First quaver to second (or in threes: to an even one), by the notes; the fit's own
    where there are too few."""
    beat = BEAT_TICKS[fit.family]
    places = fit.ticks % beat
    steps = np.diff(fit.ticks)
    gaps = np.diff(times)
    if fit.family == SIMPLE:
        at = np.flatnonzero((places[:-2] == 0) & (steps[:-1] == 6) & (steps[1:] == 6))
        ratios = gaps[at] / np.maximum(gaps[at + 1], 0.01)
    else:
        at = np.flatnonzero((places[:-2] == 0) & (steps[:-1] == 6))
        ratios = 3 * gaps[at] / fit.beats[at]
    if len(at) < 6:
        return fit.swing
    return float(np.clip(np.median(ratios), 0.7, 3.0))


def _hypotheses(family: str) -> tuple[Array, Array]:
    low, high = BEATS[family]
    count = int(np.log(high / low) / np.log(BEAT_STEP)) + 1
    beats = low * BEAT_STEP ** np.arange(count)
    swings = np.array(SWINGS[family])
    return np.repeat(beats, len(swings)), np.tile(swings, count)


def warped(family: str, swing: Array) -> Array:
    """Where each place of `PLACES` falls, as a share of the beat: (hypotheses, places)."""
    places = np.array(PLACES[family]) / BEAT_TICKS[family]
    shares = np.empty((len(swing), len(places)))
    for k, ratio in enumerate(swing):
        if family == SIMPLE:
            middle = ratio / (1 + ratio)
            bent = np.interp(places, [0, 0.5, 1], [0, middle, 1])
            triplets = np.isin(np.array(PLACES[family]), (4, 8))
            shares[k] = np.where(triplets, places, bent)
        else:
            first, third = ratio / 3, (2 + (ratio - 1) * 0.15) / 3
            shares[k] = np.interp(places, [0, 1 / 3, 2 / 3, 1], [0, first, third, 1])
    return shares


def _fit(family: str, times: Array, beat: float, swing: float) -> Fit:
    course = _Course(family, times, np.array([beat]), np.array([swing]), keep=True)
    return course.fit()


class _Course:
    """The dynamic programme over onsets."""

    def __init__(
        self, family: str, times: Array, beats: Array, swings: Array, keep: bool = False
    ) -> None:
        self.family, self.times, self.keep = family, times, keep
        self.swings = swings
        places = PLACES[family]
        self.shares = warped(family, swings)
        self.moves = beat_moves(family, places, MOST_BEATS)
        h, p = self.shares.shape
        self.cost = np.zeros((h, p)) - np.log([4.0 if x == 0 else 1.0 for x in places])
        self.beat = np.repeat(beats[:, None], p, axis=1)
        self.at = np.full((h, p), times[0])
        self.timing = np.zeros((h, p))
        self._between = self.shares[:, None, :] - self.shares[:, :, None]
        self._least = np.where(np.array(places)[None, :] > np.array(places)[:, None], 0, 1)
        self._froms: list[npt.NDArray[np.int64]] = []
        self._beats_on: list[npt.NDArray[np.int64]] = []
        self._errors: list[Array] = []
        self._lengths: list[Array] = []
        low, high = BEATS[family]
        for time in times[1:]:
            self._step(time, low * 0.9, high * 1.1)

    def _step(self, time: float, low: float, high: float) -> None:
        h, p = self.shares.shape
        rows = np.arange(h)[:, None]
        columns = np.arange(p)[None, :]
        beat = self.beat[:, :, None]
        advance = (time - self.at)[:, :, None] / beat
        beats_on = np.maximum(np.rint(advance - self._between), self._least)
        expected = beats_on + self._between
        error = (advance - expected) * beat
        spread = np.sqrt(TIMING**2 + (TIMING_SHARE * beat) ** 2)
        timing = np.minimum(0.5 * (error / spread) ** 2, MOST_COST) + np.log(spread / TIMING)
        whole = beats_on.astype(np.int64)
        prior = self.moves[columns[:, :, None], columns[:, None, :], np.minimum(whole, MOST_BEATS)]
        total = self.cost[:, :, None] + timing - prior
        best = np.argmin(total, axis=1)
        error, expected = error[rows, best, columns], expected[rows, best, columns]
        self.cost = total[rows, best, columns]
        self.timing = self.timing[rows, best] + timing[rows, best, columns]
        whole = whole[rows, best, columns]
        old = self.beat[rows, best]
        slipped = np.abs(error) > 4.5 * np.sqrt(TIMING**2 + (TIMING_SHARE * old) ** 2)
        gain = np.where(slipped, 1.0, PHASE_GAIN)
        self.at = time - (1 - gain) * error
        turned = old + np.where(slipped, 0.0, BEAT_GAIN * error / np.maximum(expected, 1.0))
        self.beat = np.clip(turned, low, high)
        if self.keep:
            self._froms.append(best)
            self._beats_on.append(whole)
            self._errors.append(error)
            self._lengths.append(self.beat)

    def costs(self) -> tuple[Array, Array]:
        """Of each hypothesis the least cost, and the beat that it ends with."""
        best = np.argmin(self.cost, axis=1)
        rows = np.arange(len(best))
        return self.cost[rows, best], self.beat[rows, best]

    def fit(self) -> Fit:
        """The best course of the first hypothesis, traced back."""
        places = PLACES[self.family]
        state = int(np.argmin(self.cost[0]))
        whole_cost, timing = float(self.cost[0, state]), float(self.timing[0, state])
        count = len(self.times)
        ticks = np.zeros(count, dtype=np.int64)
        errors, beats = np.zeros(count), np.zeros(count)
        back: list[tuple[int, int]] = []
        for k in range(count - 2, -1, -1):
            errors[k + 1] = self._errors[k][0, state]
            beats[k + 1] = self._lengths[k][0, state]
            before = int(self._froms[k][0, state])
            back.append((state, int(self._beats_on[k][0, state])))
            state = before
        beats[0] = beats[1]
        beat_ticks = BEAT_TICKS[self.family]
        now = 0
        ticks[0] = places[state]
        for k, (place, on) in enumerate(reversed(back), start=1):
            now += on
            ticks[k] = now * beat_ticks + places[place]
        return Fit(
            self.family,
            float(np.median(beats)),
            float(self.swings[0]),
            ticks,
            errors,
            timing,
            whole_cost,
            beats,
        )
