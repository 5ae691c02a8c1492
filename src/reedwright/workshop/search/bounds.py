"""What no layout with so many changed reeds can go under in effort.

The reeds changed lie in as many holes at most. For every such choice of holes each tune is given,
on the best of its harps, every note that these holes could sound in any way of changing them, all
at once. That is more than any one layout gives, so the least effort so found is never above what
a layout takes, and the least of the means over all choices of holes bounds every layout of so
many changes. Ornaments cost nothing here, which only lowers the bound.

The bound is proven, and far off: a hole that has all its notes at once is easier than any hole.

Public: `least_effort`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from itertools import combinations, product
from math import comb

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Breath, Reed, Sounding
from reedwright.tab.costs import problems_of
from reedwright.tab.effort import SCALE
from reedwright.tab.solver import solve
from reedwright.tab.ways import WaySet, WayTable, allowed, make_table, preference
from reedwright.workshop.search.layouts import changes_of, free_reeds
from reedwright.workshop.search.model import Layout
from reedwright.workshop.search.problem import PreparedTune, Problem

Counts = NDArray[np.int64]
Ways = dict[int, tuple[Sounding, ...]]
Progress = Callable[[float], None]

MOST_CHOICES = 10_000
"""Choices of holes times tunes. Where there are more, all holes are left free at once."""


def least_effort(problem: Problem, reeds: int, progress: Progress | None = None) -> float:
    """A mean effort a note that no layout with so many changes goes under."""
    free = sorted({reed.hole for reed in free_reeds(problem.wishes)})
    held = min(reeds, len(free))
    if comb(len(free), held) * len(problem.tunes) > MOST_CHOICES:
        held = len(free)
    choices = list(combinations(free, held))
    shifts = problem.shifts
    states = _HoleWays(problem)
    everything = _table(states, [tuple(free)], shifts)
    table = _table(states, choices, shifts)
    totals = np.zeros(len(choices))
    for number, tune in enumerate(problem.tunes):
        if tune.chain.played:
            units = _least(problem, tune, table, everything, len(choices))
            totals += units / (SCALE * tune.chain.played)
        if progress is not None:
            progress((number + 1) / len(problem.tunes))
    return float(totals.min()) / max(len(problem.tunes), 1)


class _HoleWays:
    """What each hole sounds as it is, and in all ways of changing its reeds at once."""

    def __init__(self, problem: Problem) -> None:
        wishes = problem.wishes
        free = set(free_reeds(wishes))
        self.holes = range(1, wishes.base.holes + 1)
        self.fixed: dict[int, frozenset[Sounding]] = {}
        self.freed: dict[int, frozenset[Sounding]] = {}
        for hole in self.holes:
            moves = [
                ((), *(((change),) for change in changes_of(wishes, reed)))
                for reed in (Reed(hole, breath) for breath in Breath)
                if reed in free
            ]
            layouts: list[Layout] = [sum(each, ()) for each in product(*moves)]
            found = [self._sounded(problem, layout, hole) for layout in layouts]
            self.fixed[hole] = found[0]
            self.freed[hole] = frozenset().union(*found)

    @staticmethod
    def _sounded(problem: Problem, layout: Layout, hole: int) -> frozenset[Sounding]:
        harp = problem.harps(layout)[0]
        return frozenset(
            sounding._replace(midi=sounding.midi - harp.transpose)
            for slide in ((False, True) if harp.tuning.slide else (False,))
            for sounding in harp.hole_soundings(hole, slide)
            if allowed(sounding, problem.profile)
        )

    def ways(self, freed: Iterable[int]) -> Ways:
        """By note of the harp in C, with these holes free."""
        loose = set(freed)
        notes: dict[int, list[Sounding]] = {}
        for hole in self.holes:
            for sounding in self.freed[hole] if hole in loose else self.fixed[hole]:
                notes.setdefault(sounding.midi, []).append(sounding)
        return {midi: tuple(sorted(ways, key=preference)) for midi, ways in notes.items()}


def _table(
    states: _HoleWays, choices: Sequence[tuple[int, ...]], shifts: Sequence[int]
) -> WayTable:
    """One problem for each choice of holes and, within it, each shift."""
    return make_table(
        tuple(
            WaySet(ways, shift, None)  # type: ignore[arg-type]  # no ornament is asked for
            for ways in (states.ways(choice) for choice in choices)
            for shift in shifts
        )
    )


def _least(
    problem: Problem, tune: PreparedTune, table: WayTable, everything: WayTable, choices: int
) -> Counts:
    """The least effort of a tune for each choice of holes, in units."""
    chain = replace(tune.chain, ornaments=Counter())
    weights = problem.profile.weights
    midis = np.array([unknown.midi for unknown in chain.unknowns])
    times = np.zeros(len(midis), np.int64)
    for (unknown, _), count in chain.lengths.items():
        times[unknown] += count

    def solved(which: WayTable, columns: Counts) -> Counts:
        part = which.take(columns)
        return solve(problems_of(chain, part, weights, tune.tempo))[0]

    shifts = everything.counts.shape[1]
    # No choice of holes is easier than all holes free; and what is missing is missing.
    free = solved(everything, np.arange(shifts))
    lacking = (table.counts[midis] == 0) * times[:, None]
    price = round(weights.missing_note * SCALE)
    floor = np.maximum(free[None, :], lacking.sum(axis=0).reshape(choices, shifts) * price)
    first = floor.argmin(axis=1)
    each = np.arange(choices)
    least = solved(table, each * shifts + first)
    open_ = floor < least[:, None]
    open_[each, first] = False
    rows, columns = np.nonzero(open_)
    if rows.size:
        np.minimum.at(least, rows, solved(table, rows * shifts + columns))
    return least
