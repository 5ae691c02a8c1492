"""How long the search for a better tuning takes, beside the ranking of harps on every layout.

    python benchmarks/tuning_search.py                    a sample of tunes, and the ratio
    python benchmarks/tuning_search.py --tunes 300        a larger one
    python benchmarks/tuning_search.py --player player    with bends
    python benchmarks/tuning_search.py --whole            the whole collection, on all cores

Every single change of up to two semitones and every pair, twelve keys, three octaves. The plain way
is `rank_harps` on every layout; some of its answers are worked out, compared with those of the
search, and its time is scaled up. The tunes are the nineteenth-century collection that
ships with music21. CPU seconds are those of this process, and of all processes with `--whole`.
"""

from __future__ import annotations

import argparse
import os
import random
import sys
import time

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(threads, "1")

import numpy as np  # noqa: E402

from ranking import collection  # noqa: E402
from reedwright.harp.tunings import find_tuning  # noqa: E402
from reedwright.player.loading import load_profile  # noqa: E402
from reedwright.tab.effort import SCALE  # noqa: E402
from reedwright.tab.ranking import rank_harps  # noqa: E402
from reedwright.workshop.search.engine import prepare, solve  # noqa: E402
from reedwright.workshop.search.layouts import all_layouts  # noqa: E402
from reedwright.workshop.search.model import SearchWishes, layout_words  # noqa: E402
from reedwright.workshop.search.rows import Table  # noqa: E402
from reedwright.workshop.search.tunesolving import Bench, solved  # noqa: E402

GOAL_SECONDS = 300.0  # the whole collection, first-year player, on two cores
SAMPLE = 60  # tunes on layouts that the ranking works out
SEED = 1850


def plain_way(tunes, problem, layouts, table, count: int) -> float:
    """CPU seconds of the ranking for one tune on one layout. Stops where it finds otherwise."""
    rng = random.Random(SEED)
    wishes, profile = problem.wishes, problem.profile
    spent = 0.0
    for _ in range(count):
        row, place = rng.randrange(len(tunes)), rng.randrange(len(layouts))
        harps = problem.harps(layouts[place])
        start = time.process_time()
        ranked = rank_harps(tunes[row], profile, harps, octaves=wishes.octaves)
        spent += time.process_time() - start
        best = min((each.missing, round(each.effort * SCALE)) for each in ranked)
        mine = (int(table.missing[row, place]), int(table.units[row, place]))
        if best != mine:
            raise SystemExit(f"{tunes[row].title}, {layouts[place]}: {mine}, not {best}")
    return spent / count


def told(layouts, table, count: int) -> str:
    """The best layouts of one number of changed reeds, by effort and by tunes with no bends."""
    shares = table.units / (SCALE * np.maximum(table.played, 1)[:, None])
    effort, plain = shares.mean(axis=0), table.plain.sum(axis=0)
    mine = [place for place, layout in enumerate(layouts) if len(layout) == count]
    lines = []
    for what, best in (
        ("least effort", min(mine, key=lambda place: effort[place])),
        ("most tunes with no bends", min(mine, key=lambda place: (-plain[place], effort[place]))),
    ):
        words = layout_words(layouts[best])
        lines.append(
            f"  {count} changed, {what}: {words}: {effort[best]:.4f} a note, {plain[best]} tunes"
        )
    return "\n".join(dict.fromkeys(lines))


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--tunes", type=int, default=100, help="how many, drawn at random")
    parser.add_argument("--player", default="first-year")
    parser.add_argument("--base", default="richter")
    parser.add_argument("--valves", default="none")
    parser.add_argument("--sample", type=int, default=SAMPLE, help="answers of the ranking")
    parser.add_argument("--whole", action="store_true", help="all tunes, on all cores")
    args = parser.parse_args()
    tunes = collection()
    if not args.whole:
        tunes = random.Random(SEED).sample(tunes, min(args.tunes, len(tunes)))
    wishes = SearchWishes(find_tuning(args.base), reeds=2, valves=args.valves)
    layouts = all_layouts(wishes)
    problem = prepare(tunes, load_profile(args.player), wishes)
    start, before = time.monotonic(), os.times()
    counted = ""
    if args.whole:
        table = solve(problem, layouts)
    else:
        bench = Bench(problem, layouts)
        rows = [solved(tune, bench) for tune in problem.tunes]
        columns = (np.array(each) for each in zip(*rows, strict=True))
        table = Table(*columns, np.array([tune.chain.played for tune in problem.tunes]))
        posed = len(tunes) * len(layouts) * len(problem.shifts)
        counted = f", {bench.problems} problems solved of {posed}"
    wall, after = time.monotonic() - start, os.times()
    cpu = sum(after[:4]) - sum(before[:4])
    each = plain_way(tunes, problem, layouts, table, args.sample)
    plain = each * len(tunes) * len(layouts)
    print(
        f"{args.player}, {len(tunes)} tunes on {len(layouts)} layouts: {cpu:.1f} s CPU, "
        f"{wall:.1f} s by the clock, {1000 * cpu / len(tunes):.1f} ms CPU a tune{counted}"
    )
    print(
        f"the ranking on every layout: {1000 * each:.1f} ms a tune and layout, {plain:.0f} s CPU, "
        f"ratio {plain / cpu:.0f} ({args.sample} answers compared, all equal)"
    )
    effort = (table.units[:, 0] / (SCALE * np.maximum(table.played, 1))).mean()
    print(f"  as it is: {effort:.4f} a note, {table.plain[:, 0].sum()} tunes with no bends")
    print(told(layouts, table, 1), told(layouts, table, 2), sep="\n")
    if args.whole:
        print(f"goal: {GOAL_SECONDS:g} s by the clock on two cores")
        return 0 if wall < GOAL_SECONDS else 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
