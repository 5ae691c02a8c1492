"""The exact search engine: what every layout does to every tune.

Public: `Problem`, `prepare`, `TuneRow`, `Table`, `solve_tune`, `solve`, `usage`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np

from reedwright.harp.model import Breath, Reed
from reedwright.tab.costs import problems_of
from reedwright.tab.solver import solve as solve_problems
from reedwright.tab.ways import way_table
from reedwright.workshop.search.model import Layout
from reedwright.workshop.search.problem import Problem, prepare
from reedwright.workshop.search.rows import Table, TuneRow

__all__ = ["Problem", "Progress", "Table", "TuneRow", "prepare", "solve", "solve_tune", "usage"]

Progress = Callable[[float, str], None]
"""Called with the share done, 0 to 1, and words for people."""


def solve_tune(problem: Problem, index: int, layouts: Sequence[Layout]) -> TuneRow:
    """One tune on layouts, in their order."""
    chain, tempo = problem.tunes[index].chain, problem.tunes[index].tempo
    count = len(layouts)
    missing = np.zeros(count, np.int32)
    units = np.zeros(count, np.int64)
    plain = np.zeros(count, np.bool_)
    if not chain.played:
        return TuneRow(missing, units, plain)
    midis = [unknown.midi for unknown in chain.unknowns]
    pairs = [(key, octave) for octave in problem.wishes.octaves for key in problem.wishes.keys]
    for place, layout in enumerate(layouts):
        harps = problem.harps(layout)
        each = tuple(harps[problem.wishes.keys.index(key)] for key, _ in pairs)
        moved = tuple(12 * octave for _, octave in pairs)
        table = way_table(each, moved, problem.profile)
        lacking = (table.counts[midis] == 0).sum(axis=0)
        columns = np.nonzero(lacking == lacking.min())[0]
        problems = problems_of(chain, table.take(columns), problem.profile.weights, tempo)
        totals, _ = solve_problems(problems)
        missing[place], units[place] = lacking.min(), totals.min()
        natural = (table.ways.technique == 0) & (table.ways.hole > 0)
        plain[place] = natural.any(axis=1)[midis].all(axis=0).any()
    return TuneRow(missing, units, plain)


def solve(
    problem: Problem,
    layouts: Sequence[Layout],
    progress: Progress | None = None,
    workers: int | None = None,
    saved: Path | None = None,
) -> Table:
    """Every tune on every layout."""
    rows = []
    for index in range(len(problem.tunes)):
        rows.append(solve_tune(problem, index, layouts))
        if progress:
            progress((index + 1) / len(problem.tunes), "tunes")
    return Table(
        np.array([row.missing for row in rows], np.int32),
        np.array([row.units for row in rows], np.int64),
        np.array([row.plain for row in rows], np.bool_),
        np.array([tune.chain.played for tune in problem.tunes], np.int32),
    )


def usage(problem: Problem) -> Mapping[Reed, int]:
    """Notes played on each reed today: each tune on its best harp of the base tuning.

    A tune repeated counts as often as it is played. Bent notes count for the hole and the
    breath in which they are played. Of equally good harps the first counts, nearest octave
    first, then in the order of the keys wished.
    """
    counts: Counter[Reed] = Counter()
    octaves = sorted(problem.wishes.octaves, key=lambda octave: (abs(octave), octave))
    harps = problem.harps(())
    pairs = [(harp, 12 * octave) for octave in octaves for harp in harps]
    table = way_table(
        tuple(harp for harp, _ in pairs), tuple(moved for _, moved in pairs), problem.profile
    )
    for tune in problem.tunes:
        chain = tune.chain
        if not chain.played:
            continue
        midis = np.array([unknown.midi for unknown in chain.unknowns])
        lacking = (table.counts[midis] == 0).sum(axis=0)
        columns = np.nonzero(lacking == lacking.min())[0]
        part = table.take(columns)
        totals, states = solve_problems(
            problems_of(chain, part, problem.profile.weights, tune.tempo)
        )
        best = int(totals.argmin())
        hole = part.ways.hole[midis, states[:, best], best]
        draw = part.ways.breath[midis, states[:, best], best]
        for (unknown, _), times in chain.lengths.items():
            if hole[unknown]:
                breath = Breath.DRAW if draw[unknown] else Breath.BLOW
                counts[Reed(int(hole[unknown]), breath)] += times
    return dict(counts)
