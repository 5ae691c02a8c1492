"""Which reeds a repertoire plays as things are: what the hands know.

Public: `usage`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

import numpy as np

from reedwright.harp.model import Breath, Reed
from reedwright.tab.costs import problems_of
from reedwright.tab.solver import solve
from reedwright.tab.ways import way_table
from reedwright.workshop.search.problem import SEMITONES_IN_OCTAVE, Problem


def usage(problem: Problem) -> Mapping[Reed, int]:
    """Notes played on each reed today: each tune on its best harp of the base tuning.

    A tune repeated counts as often as it is played. Bent notes count for the hole and the
    breath in which they are played. Of equally good harps the first counts, nearest octave
    first, then in the order of the keys wished.
    """
    counts: Counter[Reed] = Counter()
    octaves = sorted(problem.wishes.octaves, key=lambda octave: (abs(octave), octave))
    harps = problem.harps(())
    pairs = [(harp, SEMITONES_IN_OCTAVE * octave) for octave in octaves for harp in harps]
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
        totals, states = solve(problems_of(chain, part, problem.profile.weights, tune.tempo))
        best = int(totals.argmin())
        hole = part.ways.hole[midis, states[:, best], best]
        draw = part.ways.breath[midis, states[:, best], best]
        for (unknown, _), times in chain.lengths.items():
            if hole[unknown]:
                breath = Breath.DRAW if draw[unknown] else Breath.BLOW
                counts[Reed(int(hole[unknown]), breath)] += times
    return dict(counts)
