"""What bars tell of their metre: how a tune comes again and where it rests.

Public: `coming_again`, `patterns_of`, `Patterns`.

A tune likes to come again after two, four, eight bars, and its parts are 8 bars long; so bars
of the wrong length, or half or one and a half of them, are told by what does not come again.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.transcribing.rhythms import BAR_TICKS

Array = npt.NDArray[np.float64]
Whole = npt.NDArray[np.int64]
STEP = 6  # ticks between lags that are tried
SHRUNK = 12  # notes' worth of doubt where few notes have a later one
PART = 8  # bars, of most parts
LEAST_FIRSTS = 3  # first beats, to say how long they are


class Patterns(NamedTuple):
    """Shares (0 to 1) of notes that come again after so many bars or part of one; `calm`:
    how much fewer notes a part's last bar has than others (share); `sixteens`: whether the tune
    lasts 16 bars or a multiple; `long_firsts`: logarithm of how much longer than others the notes
    on first beats are."""

    after_bar: float
    after_2: float
    after_4: float
    after_8: float
    after_16: float
    after_half: float
    after_third: float
    calm: float
    sixteens: float
    long_firsts: float


def coming_again(ticks: Whole, midis: Whole) -> Array:
    """For each lag in ticks, the share of notes that come again so much later, pitch and
    place; among notes that have a later one at all, shrunk where these are few."""
    span = int(ticks[-1] - ticks[0])
    most = min(span, 2 * PART * max(BAR_TICKS.values()))
    line = np.zeros(span + 1, dtype=np.int64)
    line[ticks - ticks[0]] = midis
    found = np.zeros(most + 1)
    for lag in range(STEP, most + 1, STEP):
        ones, others = line[:-lag], line[lag:]
        here = int(np.count_nonzero(ones))
        same = int(np.count_nonzero((ones == others) & (ones > 0)))
        found[lag] = same / (here + SHRUNK)
    return found


def patterns_of(ticks: Whole, bar: int, again: Array) -> Patterns:
    """Of onsets in ticks (0 is a bar line), in bars of so many ticks."""

    def after(lag: float) -> float:
        return float(again[int(lag)]) if lag % STEP == 0 and lag < len(again) else 0.0

    bars = ticks // bar
    first = int(bars[0]) + (1 if ticks[0] % bar else 0)
    count = int(bars[-1]) - first + 1
    return Patterns(
        after(bar),
        after(2 * bar),
        after(4 * bar),
        after(8 * bar),
        after(16 * bar),
        after(bar / 2),
        after(bar / 3),
        _calm(bars - first, count),
        float(count % (2 * PART) == 0),
        _long_firsts(ticks, bar),
    )


def _calm(bars: Whole, count: int) -> float:
    notes = np.bincount(np.maximum(bars, 0), minlength=max(count, 1)).astype(np.float64)
    last = notes[PART - 1 :: PART]
    usual = float(notes.mean())
    if not len(last) or not usual:
        return 0.0
    return float((usual - last.mean()) / usual * min(1.0, len(last) / 2))


def _long_firsts(ticks: Whole, bar: int) -> float:
    steps = np.minimum(np.diff(ticks), bar)
    firsts = steps[ticks[:-1] % bar == 0]
    if len(firsts) < LEAST_FIRSTS:
        return 0.0
    return float(np.log(firsts.mean() / steps.mean()))
