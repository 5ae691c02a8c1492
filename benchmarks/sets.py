"""Fewest harps and evenings on real tunes: how good beside quick ways, and how long it takes.

    python benchmarks/sets.py [--tunes N] [--start N] [--sets N]

The tunes are those of a nineteenth-century collection of fiddle tunes that ships with music21, in
the order of their files. References: the harps by taking again and again the one that plays most
tunes not yet played (the usual greedy way; V. Chvatal, "A greedy heuristic for the set-covering
problem", Mathematics of Operations Research 4, 1979); sets by going on from the easiest tune with
whatever costs least. Seconds are processor time, told beside that of ranking the harps.
"""

from __future__ import annotations

import argparse
import time
from pathlib import Path

import numpy as np

from reedwright.harp.making import parse_harps
from reedwright.player.loading import load_profile
from reedwright.tab.sets.efforts import EffortTable, efforts
from reedwright.tab.sets.evenings import plan_evening
from reedwright.tab.sets.fewest import fewest_harps, frontier
from reedwright.tab.sets.rules import NO_RULES
from reedwright.tab.sets.stage import staged
from reedwright.tab.sets.wishes import HarpWishes, Limit, allowed
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

OWNED = "C, D, G, A, F, Bb"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tunes", type=int, default=300)
    parser.add_argument("--start", type=int, default=0, help="the first file")
    parser.add_argument("--sets", type=int, default=8)
    asked = parser.parse_args()
    tunes = collection(asked.start, asked.tunes)
    profile = load_profile("player")
    began = time.process_time()
    table = efforts(tunes, profile, workers=1)
    ranking = time.process_time() - began
    print(f"{len(tunes)} tunes on {len(table.harps)} harps ranked in {ranking:.1f} s")
    for limit in (Limit(), Limit(no_bends=True), Limit(above_best=0.3)):
        for wishes in (HarpWishes(), HarpWishes(odd=False, registers=("ordinary",))):
            harps(table, limit, wishes, ranking)
    began = time.process_time()
    steps = frontier(table)
    took = time.process_time() - began
    proven = all(step.choice.proven for step in steps)
    print(
        f"frontier of 1 to {steps[-1].most} harps, all proven {proven}: {took:.1f} s, "
        f"{took / ranking:.2f} of the ranking"
    )
    began = time.process_time()
    owned = efforts(tunes, profile, parse_harps(OWNED), workers=1)
    ranking = time.process_time() - began
    for number in (asked.sets, None):
        evening(owned, number, ranking)


def collection(start: int, count: int) -> list[Tune]:
    import music21

    folder = Path(music21.__file__).parent / "corpus" / "ryansMammoth"
    files = sorted(folder.glob("*.abc"))[start : start + count]
    return [tune for file in files for tune in read_tunes(file) if isinstance(tune, Tune)]


def harps(table: EffortTable, limit: Limit, wishes: HarpWishes, ranking: float) -> None:
    began = time.process_time()
    choice = fewest_harps(table, limit, wishes)
    took = time.process_time() - began
    takes = np.array([wishes.takes(harp) for harp in table.harps])
    within = allowed(table, limit, takes)
    can = within.can & takes
    left, greedy = can.any(axis=1), []
    while left.any():
        best = int(can[left].sum(axis=0).argmax())
        greedy.append(best)
        left = left & ~can[:, best]
    cost = np.where(can[:, greedy], within.cost[:, greedy], 10**9).min(axis=1)
    spent = cost[can.any(axis=1)].sum() / 1000
    print(
        f"{limit.words or 'no limit'}, {'all harps' if wishes.odd else 'plain harps'}: "
        f"{len(choice.harps)} harps, effort {choice.effort:.1f} for {len(choice.tunes)} tunes, "
        f"proven {choice.proven}; greedy {len(greedy)} harps, {spent:.1f}; "
        f"{took:.2f} s, {took / ranking:.2f} of the ranking"
    )


def evening(table: EffortTable, number: int | None, ranking: float) -> None:
    began = time.process_time()
    planned = plan_evening(table, sets=number)
    took = time.process_time() - began
    bench = staged(table, Limit(), NO_RULES).bench
    sets = len(planned.evening.sets)
    quick = greedy_sets(bench, sets)
    print(
        f"{sets} sets of {'a pool' if number else 'all tunes'}: cost {planned.cost:.2f}, short of "
        f"the best by {planned.short_of:.3f} at most, {len(planned.left_out)} left out; greedy "
        f"{quick:.2f}; {took:.1f} s, {took / ranking:.2f} of the ranking"
    )


def greedy_sets(bench, number: int) -> float:
    """Cost of so many sets of three, each begun with the easiest tune that is left."""
    free = np.ones(len(bench.own), bool)
    total = 0.0
    for _ in range(number):
        nodes: list[int] = []
        for _ in range(NO_RULES.usual):
            cost = bench.own if not nodes else bench.own + bench.step[nodes[-1]]
            cost = np.where(free, cost, np.inf)
            node = int(cost.argmin())
            if not np.isfinite(cost[node]):
                break
            nodes.append(node)
            free &= bench.tune != bench.tune[node]
        if len(nodes) >= NO_RULES.fewest:
            total += bench.cost(nodes, NO_RULES)
    return total


if __name__ == "__main__":
    main()
