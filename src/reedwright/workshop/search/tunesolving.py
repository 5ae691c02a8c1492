"""One tune on every layout: the distinct problems, solved together by the arranger's solver.

Public: `Bench`, `solved`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reedwright.tab.effort import ornament_units
from reedwright.tab.solver import NEVER, Problems, solve
from reedwright.workshop.search.costbook import CostBook
from reedwright.workshop.search.distinct import Posed, lacking, posed
from reedwright.workshop.search.graces import Ornaments, stands_alone
from reedwright.workshop.search.holes import Holes, holes_of
from reedwright.workshop.search.model import Layout
from reedwright.workshop.search.problem import PreparedTune, Problem
from reedwright.workshop.search.rows import TuneRow

BATCH = 1024
"""Problems solved at once; measured, but it matters little."""

Costs = NDArray[np.int64]
Integers = NDArray[Any]


class Bench:
    """What serves all tunes of a problem on some layouts. `problems` counts those solved.

    `prune`: whether problems that cannot matter are left out, and equal ones solved once; a
    switch for the tests, which hold that it changes nothing but the time.
    """

    def __init__(self, problem: Problem, layouts: Sequence[Layout], prune: bool = True) -> None:
        self.holes: Holes = holes_of(problem.wishes, problem.profile, layouts)
        self.ornaments = Ornaments(problem.wishes, problem.profile, self.holes)
        self.costs = CostBook(problem.profile.weights, self.holes.ways)
        self.shifts = np.array(problem.shifts)
        self.prune = prune
        self.problems = 0


def solved(tune: PreparedTune, bench: Bench) -> TuneRow:
    """One tune on every layout of the bench, in their order."""
    chain, holes, shifts = tune.chain, bench.holes, bench.shifts
    count = holes.layouts
    if not chain.played:
        return TuneRow(
            np.zeros(count, np.int32), np.zeros(count, np.int64), np.zeros(count, np.bool_)
        )
    lacks = lacking(chain, holes.present, holes.lowest, shifts)
    fewest = lacks.min(axis=1)
    bare = lacks
    if holes.plain is not holes.present:
        bare = lacking(chain, holes.plain, holes.lowest, shifts)
    plain = (bare == 0).any(axis=1)
    counts = lacks == fewest[:, None]
    cases = counts if bench.prune else np.ones_like(counts)
    found = posed(chain, holes, bench.ornaments, shifts, cases, bench.prune)
    bench.problems += found.problems
    totals = np.full(cases.shape, NEVER, np.int64)
    totals[cases] = _least(tune, found, bench)[found.problem]
    units: Costs = np.where(counts, totals, NEVER).min(axis=1)
    return TuneRow(fewest, units, plain)


def _least(tune: PreparedTune, found: Posed, bench: Bench) -> Costs:
    """The least effort of every problem, in units.

    Problems with few ways are solved together, and so are those with many, as the tables of
    a batch are as wide as its widest problem. The size of a batch is for the processor's caches.
    """
    totals = np.zeros(found.problems, np.int64)
    sizes = {midi: (ways < bench.costs.never).sum(axis=0) for midi, ways in found.ways.items()}
    each = np.sum([sizes[unknown.midi] for unknown in tune.chain.unknowns], axis=0)
    for batch in np.array_split(np.argsort(each, kind="stable"), -(-found.problems // BATCH)):
        part = found.take(batch, {midi: int(size[batch].max()) for midi, size in sizes.items()})
        single = _singles(tune, part, bench)
        pairs = _pairs(tune, part, bench, single)
        totals[batch], _ = solve(Problems(single, pairs, len(batch)))
    return totals


def _singles(tune: PreparedTune, found: Posed, bench: Bench) -> list[Costs]:
    """What each note costs on each of its ways, shape (states, problems) for each unknown."""
    chain, costs = tune.chain, bench.costs
    by_way: list[Costs] = [np.zeros(costs.never + 1, np.int64) for _ in chain.unknowns]
    for (i, length), times in chain.lengths.items():
        by_way[i] += costs.notes(costs.haste(length, tune.tempo)) * times
    dressed: defaultdict[int, list[Costs]] = defaultdict(list)
    for (i, length, demand), times in chain.ornaments.items():
        hurry = costs.haste(length, tune.tempo)
        if stands_alone(demand):
            leisure = bench.ornaments.by_way(demand)
            by_way[i] += ornament_units(costs.weights, leisure, hurry) * times
        else:
            leisure = found.efforts[chain.unknowns[i].midi, demand]
            dressed[i].append(ornament_units(costs.weights, leisure, hurry) * times)
    single = []
    for i, unknown in enumerate(chain.unknowns):
        table = by_way[i][found.ways[unknown.midi]]
        for more in dressed[i]:
            table = table + more
        single.append(table)
    return single


def _pairs(
    tune: PreparedTune, found: Posed, bench: Bench, single: list[Costs]
) -> dict[tuple[int, int], Costs]:
    """What each move costs by the ways of its two notes; a note followed by itself adds to
    `single`."""
    chain, costs = tune.chain, bench.costs
    places: dict[tuple[int, int], Integers] = {}
    tables: dict[tuple[int, int, float, bool, bool], Costs] = {}
    pairs: dict[tuple[int, int], Costs] = {}
    for (i, j, time, rest, slur), times in chain.moves.items():
        one, two = chain.unknowns[i].midi, chain.unknowns[j].midi
        hurry = costs.haste(time, tune.tempo)
        if i == j:
            ways = found.ways[one]
            single[i] = single[i] + costs.moves(hurry, rest, slur)[ways, ways] * times
            continue
        key = (one, two, hurry, rest, slur)
        table = tables.get(key)
        if table is None:
            if (one, two) not in places:
                first = found.ways[one].astype(np.int64) * (costs.never + 1)
                places[one, two] = first[:, None] + found.ways[two][None]
            table = costs.moves(hurry, rest, slur).take(places[one, two])
            tables[key] = table
        if times > 1:
            table = table * times
        if i > j:
            i, j, table = j, i, table.transpose(1, 0, 2)
        known = pairs.get((i, j))
        pairs[i, j] = table if known is None else known + table
    return pairs
