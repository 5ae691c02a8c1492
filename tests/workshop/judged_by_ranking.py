"""What every layout does to every tune, worked out by the ranking of harps: slow, and exact.

The search has its own engine; the ranking is another road to the same numbers (`rank_harps`, whose
efforts are those of `arrange`), so it can judge the search.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from itertools import combinations, product
from typing import NamedTuple

import numpy as np

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.tab.arrange import arrange
from reedwright.tab.chain import make_chain
from reedwright.tab.effort import SCALE
from reedwright.tab.ranking import rank_harps
from reedwright.workshop.search.model import Change, layout_tuning


class Judged(NamedTuple):
    missing: np.ndarray
    units: np.ndarray
    plain: np.ndarray
    played: np.ndarray


def every_layout(wishes):
    """Every choice of at most `wishes.reeds` reeds and every way to move each."""
    free = [
        Reed(hole, breath)
        for hole in range(1, wishes.base.holes + 1)
        for breath in Breath
        if Reed(hole, breath) not in wishes.frozen
    ]
    moves = [by for by in range(-wishes.semitones, wishes.semitones + 1) if by]
    return [
        tuple(Change(reed, by) for reed, by in zip(reeds, each, strict=True))
        for count in range(wishes.reeds + 1)
        for reeds in combinations(free, count)
        for each in product(moves, repeat=count)
    ]


def harps_of(wishes, layout):
    tuning = layout_tuning(wishes.base, layout)
    return [make_harp(key, tuning, valves=wishes.valves) for key in wishes.keys]


def judged(tunes, profile, wishes, layouts):
    shape = (len(tunes), len(layouts))
    missing, units = np.zeros(shape, int), np.zeros(shape, int)
    plain = np.zeros(shape, bool)
    natural = replace(profile, techniques=frozenset())
    for place, layout in enumerate(layouts):
        harps = harps_of(wishes, layout)
        for row, tune in enumerate(tunes):
            ranked = rank_harps(tune, profile, harps, octaves=wishes.octaves)
            best = min((each.missing, round(each.effort * SCALE)) for each in ranked)
            missing[row, place], units[row, place] = best
            bare = rank_harps(tune, natural, harps, octaves=wishes.octaves)
            plain[row, place] = any(each.complete for each in bare)
    played = np.array([make_chain(tune).played for tune in tunes])
    return Judged(missing, units, plain, played)


def best_today(tune, profile, wishes):
    """The harp and octaves of the base tuning: fewest notes missing, then least effort."""
    ranked = rank_harps(tune, profile, harps_of(wishes, ()), octaves=wishes.octaves)
    return min(ranked, key=lambda each: (each.missing, each.effort))


def used_today(tunes, profile, wishes):
    """Notes as played on each reed, each tune on its best harp of the base tuning."""
    counts = Counter()
    for tune in tunes:
        best = best_today(tune, profile, wishes)
        made = arrange(tune, best.harp, profile, octaves=best.octaves)
        chain = make_chain(tune)
        for (unknown, _), times in chain.lengths.items():
            way = made.soundings.get(chain.unknowns[unknown].ids[0])
            if way is not None:
                counts[Reed(way.hole, way.breath)] += times
    return counts
