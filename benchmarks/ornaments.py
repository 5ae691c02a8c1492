"""How the notated ornaments of real collections fare on the harp, and how fast tunes are arranged.

    python benchmarks/ornaments.py            speed of one tune of 250 notes, parts of it
    python benchmarks/ornaments.py --all      also every tune of the collections on its best harp

The collections are those that ship with music21; one core. For every grace note and every
sign of an ornament it is counted whether it is played as written, with other notes or not at all.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections import Counter
from pathlib import Path

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(threads, "1")

import networkx  # noqa: E402

from ranking import long_tune  # noqa: E402
from reedwright.harp.making import make_harp  # noqa: E402
from reedwright.player.loading import load_profile  # noqa: E402
from reedwright.tab.arrange import arrange, posed  # noqa: E402
from reedwright.tab.arrangement import Arrangement  # noqa: E402
from reedwright.tab.best import NoHarp, easiest  # noqa: E402
from reedwright.tab.ornaments.model import Amount  # noqa: E402
from reedwright.tab.ornaments.playable import (  # noqa: E402
    OUTCOMES,
    ornamenting,
    written_demands,
)
from reedwright.tab.wishes import Wishes  # noqa: E402
from reedwright.tune.model import Tune  # noqa: E402
from reedwright.tune.reading import read_tunes  # noqa: E402

COLLECTIONS = {"1850 collection": "oneills1850", "Ryan's": "ryansMammoth", "Aird's": "airdsAirs"}
GOAL_MS, GOAL_ALL_SECONDS = 30.0, 90.0
TRIES = 15


def speed() -> None:
    """One tune with ornaments and breath, beside a shortest path by NetworkX on the same costs."""
    tune, harp, player = long_tune(), make_harp("G"), load_profile("player")
    written = len(list(tune.voices[0].notes))
    print(f"a tune of {written} written notes, {arrange(tune, harp, player).notes_played} played")
    for amount in (Amount.NONE, Amount.WRITTEN, Amount.MEDIUM, Amount.FULL):
        wishes = Wishes(amount=amount)
        arrange(tune, harp, player, wishes=wishes)
        seconds = []
        for _ in range(TRIES):
            start = time.perf_counter()
            arrange(tune, harp, player, wishes=wishes)
            seconds.append(time.perf_counter() - start)
        best = 1000 * min(seconds)
        print(f"  ornaments {amount.value:10}  {best:6.1f} ms   (goal {GOAL_MS:g})")
    problem = posed(tune, harp, player)
    start = time.perf_counter()
    graph = networkx.DiGraph()
    for j in range(1, len(problem.ways)):
        table = problem.problems.pairs.get((j - 1, j))  # none where only a jump leads on
        for a in range(len(problem.ways[j - 1])):
            for b in range(len(problem.ways[j])):
                own = int(problem.problems.single[j][b, 0])
                weight = own if table is None else own + int(table[a, b, 0])
                graph.add_edge((j - 1, a), (j, b), weight=weight)
    networkx.single_source_dijkstra_path_length(graph, (0, 0))
    print(f"  NetworkX, fingering alone, no repeats: {1000 * (time.perf_counter() - start):.1f} ms")


def tunes_of(folder: str) -> list[Tune]:
    import importlib.util

    spec = importlib.util.find_spec("music21")
    assert spec is not None and spec.origin is not None
    files = sorted((Path(spec.origin).parent / "corpus" / folder).glob("*.abc"))
    return [tune for file in files for tune in read_tunes(file) if isinstance(tune, Tune)]


def outcomes(arrangement: Arrangement) -> Counter[tuple[str, str]]:
    """For each grace note and each sign: what became of it; of grace notes also how."""
    has = ornamenting(arrangement.harp, arrangement.player)
    found: Counter[tuple[str, str]] = Counter()
    for each in arrangement.ornaments:
        if not each.written:  # a sign
            found["sign", each.outcome.value] += 1
            found[f"  {each.kind.value}", each.why or each.outcome.value] += 1
    for note in arrangement.plain.voices[arrangement.voice].notes:
        main = arrangement.soundings.get(note.id)
        if main is None:
            found["grace note", "its note is missing"] += len(note.graces)
            continue
        kept = dict(has.grace_notes(main, note))
        for k, demand in enumerate(written_demands(note)[: len(note.graces)]):
            way = has.realised(main, demand)
            if k not in kept:
                found["grace note", "the same as the one before"] += 1
                continue
            found["grace note", way.outcome] += 1
            if way.outcome == OUTCOMES[0]:
                (touched,) = way.touched
                how = "bend" if touched.bend else f"{abs(touched.hole - main.hole)} away"
                found["  as written", how] += 1
    return found


def everything() -> None:
    player = load_profile("player")
    for name, folder in COLLECTIONS.items():
        tunes = tunes_of(folder)
        totals: Counter[tuple[str, str]] = Counter()
        ranking = arranging = 0.0
        count = 0
        for tune in tunes:
            start = time.perf_counter()
            try:
                best = easiest(tune, player)
            except NoHarp:
                continue
            middle = time.perf_counter()
            found = arrange(tune, best.harp, player, octaves=best.octaves)
            arranging += time.perf_counter() - middle
            ranking += middle - start
            totals += outcomes(found)
            count += 1
        print(f"\n{name}: {count} tunes, ranked in {ranking:.1f} s, arranged in {arranging:.1f} s")
        for kind in sorted({kind for kind, _ in totals}):
            row = {outcome: n for (k, outcome), n in sorted(totals.items()) if k == kind}
            print(f"  {kind:16} {sum(row.values()):5}  {row}")
        if folder == "oneills1850":
            print(f"  goal for ranking and arranging: {GOAL_ALL_SECONDS:g} s")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--all", action="store_true")
    speed()
    if parser.parse_args().all:
        everything()
    sys.exit(0)
