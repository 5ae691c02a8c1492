"""How often the beam for three and more changed reeds finds the best there is.

    python benchmarks/tuning_beam.py [--pool 120] [--repertoires 100] [--tunes 30] [--seed 1]

All layouts of up to three changed reeds (two semitones, twenty reeds: 76,081) are worked out for a
pool of tunes from the nineteenth-century collection that ships with music21. Random
repertoires are drawn from the pool; for each the best of all pairs and of all triples is known,
and the beam is let loose on the same numbers: for triples as it is, for pairs limited to
two, from single changes. A quarter of an hour on one core with the pool of 120.
"""

from __future__ import annotations

import argparse
import os
import random
import time
from dataclasses import replace

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(threads, "1")

import numpy as np  # noqa: E402

from ranking import collection  # noqa: E402
from reedwright.harp.tunings import find_tuning  # noqa: E402
from reedwright.player.loading import load_profile  # noqa: E402
from reedwright.workshop.search.beyond import extended  # noqa: E402
from reedwright.workshop.search.choosing import Scores, by_effort, scores_of  # noqa: E402
from reedwright.workshop.search.engine import prepare, solve, usage  # noqa: E402
from reedwright.workshop.search.layouts import all_layouts  # noqa: E402
from reedwright.workshop.search.model import SearchWishes  # noqa: E402
from reedwright.workshop.search.plainness import plainest  # noqa: E402
from reedwright.workshop.search.rows import Table  # noqa: E402
from reedwright.workshop.search.survey import _layouts_of  # noqa: E402

BLOCK = 8_000  # layouts


def whole_table(problem, layouts, jobs: int) -> Table:
    """Only what scores need, in small types: a table of all triples is large."""
    shape = (len(problem.tunes), len(layouts))
    missing, units = np.zeros(shape, np.int16), np.zeros(shape, np.int32)
    plain = np.zeros(shape, bool)
    for at in range(0, len(layouts), BLOCK):
        part = solve(problem, layouts[at : at + BLOCK], workers=jobs)
        missing[:, at : at + BLOCK] = part.missing
        units[:, at : at + BLOCK] = part.units
        plain[:, at : at + BLOCK] = part.plain
        played = part.played
    return Table(missing, units, plain, played)


def some(scores: Scores, index) -> Scores:
    return replace(
        scores,
        layouts=tuple(scores.layouts[i] for i in index),
        reeds=scores.reeds[index],
        plain=scores.plain[index],
        playable=scores.playable[index],
        effort=scores.effort[index],
        relearned=scores.relearned[index],
        semitones=scores.semitones[index],
        tunes=scores.tunes[:, index],
    )


def measured(scores: Scores, wishes, problem, reeds: int) -> tuple[float, float, int, bool]:
    """Best effort of all, best that the beam found, layouts tried, most tunes with no bends."""
    place = {layout: index for index, layout in enumerate(scores.layouts)}
    tried = 0

    def judge(layouts):
        nonlocal tried
        tried += len(layouts)
        return some(scores, [place[layout] for layout in layouts])

    known = some(scores, np.nonzero(scores.reeds < reeds)[0])
    most = plainest(problem, reeds, 50)
    found = extended(wishes, known, reeds, judge, most.layouts)
    truly = scores.effort[by_effort(scores, reeds)[0]]
    best = found.effort[by_effort(found, reeds)[0]]
    return truly, best, tried, most.most == scores.plain[scores.reeds == reeds].max()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pool", type=int, default=120)
    parser.add_argument("--repertoires", type=int, default=100)
    parser.add_argument("--tunes", type=int, default=30)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--players", default="first-year,player")
    args = parser.parse_args()
    chance = random.Random(args.seed)
    pool = chance.sample(collection(), args.pool)
    wishes = SearchWishes(find_tuning("richter"), reeds=3)
    layouts = [*all_layouts(replace(wishes, reeds=2)), *_layouts_of(wishes, 3)]
    good = True
    for name in args.players.split(","):
        player = load_profile(name)
        whole = prepare(pool, player, wishes)
        start = time.perf_counter()
        table = whole_table(whole, layouts, args.jobs)
        seconds = time.perf_counter() - start
        print(f"{name}: {len(layouts)} layouts on {args.pool} tunes, {seconds:.0f} s", flush=True)
        told: dict[int, list[tuple[float, float, int, bool]]] = {2: [], 3: []}
        for _ in range(args.repertoires):
            rows = sorted(chance.sample(range(args.pool), args.tunes))
            problem = replace(whole, tunes=tuple(whole.tunes[row] for row in rows))
            part = Table(
                table.missing[rows], table.units[rows], table.plain[rows], table.played[rows]
            )
            scores = scores_of(part, layouts, usage(problem))
            for reeds, mine in told.items():
                mine.append(measured(scores, wishes, problem, reeds))
        for reeds, mine in told.items():
            hit = sum(best == truly for truly, best, _, _ in mine)
            worst = max(best / truly - 1 for truly, best, _, _ in mine)
            tried = np.mean([each[2] for each in mine])
            of = sum(len(layout) == reeds for layout in layouts)
            good &= all(each[3] for each in mine)
            print(
                f"  {reeds} reeds: the best of all in {hit} of {len(mine)}, at worst "
                f"{100 * worst:.2f} % above it; {tried:.0f} of {of} layouts tried; most tunes "
                f"with no bends right in {sum(each[3] for each in mine)}",
                flush=True,
            )
    return 0 if good else 1


if __name__ == "__main__":
    raise SystemExit(main())
