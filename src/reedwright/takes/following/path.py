"""The cheapest account of a take: which heard note plays which written one.

Dynamic programming over heard notes and places of the score. `D[i, j]` is the least cost of
all heard notes up to `i` where `i` plays place `j`. It comes from an earlier heard note (what is
between was added) at an earlier place (what is between was missed), or from outside the tune.
The method is that of edit distance between note sequences (Mongeau and Sankoff, "Comparison of
musical sequences", 1990) with a tempo that each path carries, as score followers do. Time: heard
notes times edges; memory: heard notes times places.

Public: `find_path`, `Sequence`, `Path`, `Match`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.following import costs
from reedwright.takes.following.score import Score

Floats = npt.NDArray[np.float32]

_FAR = np.float32(1e9)


class Sequence(NamedTuple):
    """Heard notes as arrays: pitch at the take's own A (MIDI), onset and length in seconds, how
    sure each is (0 to 1), and the seconds a quarter note to be expected there."""

    midi: Floats
    start: npt.NDArray[np.float64]
    seconds: Floats
    surety: Floats
    pace: Floats

    def part(self, where: slice) -> Sequence:
        return Sequence(*(array[where] for array in self))


class Match(NamedTuple):
    """Heard note `heard` plays place `place`, come to along `edge` (-1: from outside)."""

    heard: int
    place: int
    edge: int


class Path(NamedTuple):
    """The matches in order, the cost of it all, and what it would cost with no tune in it."""

    matches: tuple[Match, ...]
    cost: float
    outside: float


def find_path(score: Score, heard: Sequence, semitones: float) -> Path:
    """The cheapest account. `semitones`: how far above the score the take lies."""
    if not len(heard.midi) or not len(score.places):
        return Path((), 0.0, 0.0)
    return _Search(score, heard, semitones).path()


def added_costs(heard: Sequence) -> tuple[Floats, Floats]:
    """What each note costs within the tune if not written, and outside it."""
    small = np.minimum(1.0, 0.4 + 0.6 * heard.seconds / costs.SHORT)
    weight = (small * (0.4 + 0.6 * heard.surety)).astype(np.float32)
    added = costs.ADDED * weight
    same = np.zeros(len(added), dtype=bool)
    same[1:] = np.abs(np.diff(heard.midi)) < 0.5
    added = np.where(same, np.minimum(added, costs.ADDED_SAME), added)
    return added.astype(np.float32), (costs.OUTSIDE * weight).astype(np.float32)


class _Search:
    def __init__(self, score: Score, heard: Sequence, semitones: float) -> None:
        self._score = score
        self._heard = heard
        self._added, self._outside = added_costs(heard)
        self._written = score.midi + np.float32(semitones)
        grace = np.array([place.is_grace for place in score.places])
        self._extra = np.where(  # seconds besides what is written
            grace[score.source] & (score.quarters == 0), costs.GRACE_SECONDS, 0.0
        ).astype(np.float32) + np.float32(costs.SLACK)
        self._targets, self._starts = np.unique(score.target, return_index=True)
        self._counts = np.diff(np.append(self._starts, len(score.target)))
        size = (len(heard.midi), len(score.places))
        self._edge = np.full(size, -1, dtype=np.int32)
        self._lag = np.zeros(size, dtype=np.int8)
        self._left_from = np.full(len(heard.midi), -1, dtype=np.int32)

    def path(self) -> Path:
        score, heard = self._score, self._heard
        many, places = len(heard.midi), len(score.places)
        depth = costs.MOST_ADDED + 1
        best = np.full((depth, places), _FAR, dtype=np.float32)  # the last rows, by i modulo depth
        pace = np.zeros((depth, places), dtype=np.float32)  # logarithms
        log_pace = np.log(heard.pace).astype(np.float32)
        outside = np.float32(0.0)
        for i in range(many):
            row = outside + score.enter
            row_pace = np.full(places, log_pace[i], dtype=np.float32)
            if i:
                self._go_on(i, best, pace, row, row_pace)
            row += np.interp(
                np.abs(heard.midi[i] - self._written) * 100, costs.PITCH_CENTS, costs.PITCH_COSTS
            )
            best[i % depth], pace[i % depth] = row, row_pace
            outside = outside + self._outside[i]
            left = row + score.leave
            last = int(np.argmin(left))
            if left[last] < outside:
                outside = left[last]
                self._left_from[i] = last
        return Path(self._back(), float(outside), float(self._outside.sum()))

    def _go_on(self, i: int, best: Floats, pace: Floats, row: Floats, row_pace: Floats) -> None:
        """Reach note i from the notes before it, where that is cheaper than from outside."""
        score, start = self._score, self._heard.start
        depth = len(best)
        lags = np.arange(1, min(depth, i + 1))
        rows = (i - lags) % depth
        between = np.concatenate([[0.0], np.cumsum(self._added[i - lags[:-1]])]).astype(np.float32)
        seconds = (start[i] - start[i - lags]).astype(np.float32)[:, None]
        before = best[rows][:, score.source]
        paces = pace[rows][:, score.source]
        heard = np.log(seconds + np.float32(costs.SLACK))
        misfit = heard - np.log(score.quarters * np.exp(paces) + self._extra)
        squared = misfit * misfit
        total = before + (score.cost + between[:, None])
        total += np.float32(costs.TIME_MOST) * squared / (squared + np.float32(costs.TIME_HALF**2))
        lag = np.argmin(total, axis=0)
        columns = np.arange(len(score.source))
        least = total[lag, columns]
        smallest = np.minimum.reduceat(least, self._starts)
        hits = np.flatnonzero(least == np.repeat(smallest, self._counts))[::-1]
        edge = np.zeros(len(row), dtype=np.int64)
        edge[score.target[hits]] = hits
        better = self._targets[smallest < row[self._targets]]
        chosen = edge[better]
        row[better] = least[chosen]
        self._edge[i, better] = chosen
        self._lag[i, better] = lags[lag[chosen]]
        row_pace[better] = _new_pace(
            paces[lag[chosen], chosen],
            seconds[lag[chosen], 0],
            score.quarters[chosen],
        )

    def _back(self) -> tuple[Match, ...]:
        found: list[Match] = []
        i = len(self._heard.midi) - 1
        while i >= 0:
            place = int(self._left_from[i])
            if place < 0:
                i -= 1
                continue
            while True:
                edge = int(self._edge[i, place])
                found.append(Match(i, place, edge))
                if edge < 0:
                    i -= 1
                    break
                i -= int(self._lag[i, place])
                place = int(self._score.source[edge])
        return tuple(reversed(found))


def _new_pace(pace: Floats, seconds: Floats, quarters: Floats) -> Floats:
    """The tempo after a step, by how long it took."""
    plain = np.maximum(quarters, np.float32(1e-3))
    misfit = np.log(np.maximum(seconds, np.float32(1e-3)) / plain) - pace
    share = seconds / (seconds + np.float32(costs.TEMPO_MEMORY))
    share = np.where(np.abs(misfit) > costs.TEMPO_MISFIT, share * costs.TEMPO_MISFIT_SHARE, share)
    step = share * np.clip(misfit, -costs.TEMPO_STEP, costs.TEMPO_STEP)
    return np.where(quarters > 0, pace + step, pace).astype(np.float32)
