"""The cheapest account of a take: which heard note plays which written one.

Dynamic programming over heard notes and places of the score. `D[i, j]` is the least cost of
all heard notes up to `i` where `i` plays place `j`. It comes from an earlier heard note (what is
between was added) at an earlier place (what is between was missed), or from outside the tune.
The method is that of edit distance between note sequences (Mongeau and Sankoff, "Comparison of
musical sequences", 1990) with a tempo that each path carries, as score followers do. Time: heard
notes times edges; memory: heard notes times places.

Public: `find_path`, `added_costs`, `Sequence`, `Path`, `Match`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.following import costs
from reedwright.takes.following.score import Score

Floats = npt.NDArray[np.float32]

_BLOCK = 256


class Sequence(NamedTuple):
    """Heard notes as arrays: pitch at the take's own A (MIDI), onset and length in seconds, how
    sure each is (0 to 1), and the seconds a quarter note to be expected there."""

    midi: Floats
    start: npt.NDArray[np.float64]
    seconds: Floats
    surety: Floats
    pace: Floats

    def part(self, where: slice) -> Sequence:
        return Sequence(
            self.midi[where],
            self.start[where],
            self.seconds[where],
            self.surety[where],
            self.pace[where],
        )


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


def find_path(
    score: Score, heard: Sequence, semitones: float, quarters: Floats | None = None
) -> Path:
    """The cheapest account. `semitones`: how far above the score the take lies; `quarters`:
    how long the edges are, where the lilt of the playing is known."""
    if not len(heard.midi) or not len(score.places):
        return Path((), 0.0, 0.0)
    return _Search(score, heard, semitones, quarters).path()


def _pitch_costs(midi: Floats, written: Floats) -> Iterator[Floats]:
    """For each heard note what each place would cost, some hundred notes at a time."""
    for first in range(0, len(midi), _BLOCK):
        cents = np.abs(midi[first : first + _BLOCK, None] - written) * 100
        yield from np.interp(cents, costs.PITCH_CENTS, costs.PITCH_COSTS).astype(np.float32)


def added_costs(heard: Sequence) -> tuple[Floats, Floats]:
    """What each note costs within the tune if not written, and outside it."""
    small = np.minimum(1.0, heard.seconds / costs.SHORT)
    sure = 0.4 + 0.6 * heard.surety
    added = costs.ADDED * sure * (0.4 + 0.6 * small)
    same = np.zeros(len(added), dtype=bool)
    same[1:] = np.abs(np.diff(heard.midi)) < 0.5
    added = np.where(same, np.minimum(added, costs.ADDED_SAME), added)
    return added.astype(np.float32), (costs.OUTSIDE * sure * (0.7 + 0.3 * small)).astype(np.float32)


class _Open(NamedTuple):
    """The edges that lead on from a heard note: the cost of having come to their source and of
    the edge, the source's tempo and the seconds expected (both as logarithms)."""

    edges: npt.NDArray[np.int64]
    come: Floats
    paces: Floats
    expected: Floats


class _Search:
    def __init__(
        self, score: Score, heard: Sequence, semitones: float, quarters: Floats | None
    ) -> None:
        self._score = score
        self._heard = heard
        self._quarters = score.quarters if quarters is None else quarters
        self._added, self._outside = added_costs(heard)
        self._written = score.midi + np.float32(semitones)
        grace = np.array([place.is_grace for place in score.places])
        self._extra = np.where(  # seconds besides what is written
            grace[score.source] & (score.quarters == 0), costs.GRACE_SECONDS, 0.0
        ).astype(np.float32) + np.float32(costs.SLACK)
        size = (len(heard.midi), len(score.places))
        self._edge = np.full(size, -1, dtype=np.int32)
        self._lag = np.zeros(size, dtype=np.int8)
        self._left_from = np.full(len(heard.midi), -1, dtype=np.int32)
        self._open: list[_Open] = []  # of the last notes, the latest first

    def path(self) -> Path:
        score, heard = self._score, self._heard
        log_pace = np.log(heard.pace).astype(np.float32)
        outside = np.float32(0.0)
        pitches = _pitch_costs(heard.midi, self._written)
        for i in range(len(heard.midi)):
            row = outside + score.enter
            pace = np.full(len(row), log_pace[i], dtype=np.float32)
            if i:
                self._go_on(i, row, pace)
            row += next(pitches)
            outside = outside + self._outside[i]
            left = row + score.leave
            last = int(left.argmin())
            if left[last] < outside:
                outside = left[last]
                self._left_from[i] = last
            self._open.insert(0, self._opened(row, pace, outside))
            del self._open[costs.MOST_ADDED + 1 :]
        return Path(self._back(), float(outside), float(self._outside.sum()))

    def _opened(self, row: Floats, pace: Floats, outside: np.float32) -> _Open:
        """The edges worth going along: others cost more than to enter the tune anew."""
        come = row[self._score.source] + self._score.cost
        edges = (come < outside + np.float32(costs.ENTER + costs.ADDED_SAME)).nonzero()[0]
        paces = pace[self._score.source[edges]]
        expected = np.log(self._quarters[edges] * np.exp(paces) + self._extra[edges])
        return _Open(edges, come[edges], paces, expected)

    def _go_on(self, i: int, row: Floats, pace: Floats) -> None:
        """Reach note i from the notes before it, where that is cheaper than from outside."""
        start = self._heard.start
        back = self._open
        sizes = [len(each.edges) for each in back]
        lags = np.arange(1, len(back) + 1)
        between = np.zeros(len(back), dtype=np.float32)
        np.cumsum(self._added[i - lags[:-1]], out=between[1:])
        seconds = (start[i] - start[i - lags]).astype(np.float32)
        edges = np.concatenate([each.edges for each in back])
        if not len(edges):
            return
        misfit = np.repeat(np.log(seconds + np.float32(costs.SLACK)), sizes)
        misfit -= np.concatenate([each.expected for each in back])
        misfit *= misfit
        total = np.float32(costs.TIME_MOST) * misfit / (misfit + np.float32(costs.TIME_HALF**2))
        total += np.concatenate([each.come for each in back])
        total += np.repeat(between, sizes)
        targets = self._score.target[edges]
        least = row.copy()
        np.minimum.at(least, targets, total)
        hits = ((total == least[targets]) & (total < row[targets])).nonzero()[0][::-1]
        chosen = np.full(len(row), -1, dtype=np.int64)
        chosen[targets[hits]] = hits  # of equals the first, which has fewest added notes
        better = (chosen >= 0).nonzero()[0]
        which = chosen[better]
        lag = np.repeat(lags, sizes)[which]
        row[better] = least[better]
        self._edge[i, better] = edges[which]
        self._lag[i, better] = lag
        pace[better] = _new_pace(
            np.concatenate([each.paces for each in back])[which],
            seconds[lag - 1],
            self._quarters[edges[which]],
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
