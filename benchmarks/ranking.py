"""How fast harps are ranked, on one core, beside a general shortest-path library.

    python benchmarks/ranking.py            one tune, and the ratio to NetworkX
    python benchmarks/ranking.py --all      also the best harp for each of the 1,850 tunes

The tune: 250 written notes with repeats and endings, put together from the demo tunes' bars.
The problems: 12 keys x 8 tunings x 3 octaves. NetworkX solves the same problems without the
repeats (it knows only paths); a sample of them is timed and scaled up. The 1,850 tunes are
the nineteenth-century collection that ships with music21.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import time
from itertools import pairwise
from pathlib import Path

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(threads, "1")

import networkx  # noqa: E402

from reedwright.harp.making import KEYS, make_harp  # noqa: E402
from reedwright.harp.model import Harp  # noqa: E402
from reedwright.harp.tunings import SHIPPED, SHIPPED_NAMES, read_tuning  # noqa: E402
from reedwright.player.loading import load_profile  # noqa: E402
from reedwright.tab.ranking import best_harp, rank_harps  # noqa: E402
from reedwright.tune.abc import read_abc  # noqa: E402
from reedwright.tune.model import Tune  # noqa: E402

ROOT = Path(__file__).resolve().parents[1]
TUNINGS = tuple(name for name in SHIPPED_NAMES if name != "slide-solo-12")  # those of ten holes
OCTAVES = (-1, 0, 1)
NOTES = 250
GOAL_MS = 100.0
GOAL_ALL_SECONDS = 60.0
SAMPLE = 12  # problems that NetworkX solves


def long_tune() -> Tune:
    """250 written notes in four repeated parts, each with two endings."""
    bars = []
    for text in (ROOT / "examples" / "tunes.abc").read_text(encoding="utf-8").split("X:")[1:]:
        body = text.split("K:", 1)[1].split("\n", 1)[1]
        for mark in ("|:", ":|", "||", "|]", "|1", "|2", ":", "~", "\n", "P", "!fermata!"):
            body = body.replace(mark, "|" if "|" in mark else "")
        bars += [bar for bar in body.split("|") if len(bar) > 4 and '"' not in bar]
    written: list[str] = []
    for count in range(1, len(bars)):
        part = count // 4
        written = []
        for p in range(4):
            mine = bars[p * part : (p + 1) * part]
            *most, one, two = mine if len(mine) > 2 else [*mine, "G2", "A2", "B2"]
            written.append(f"|:{'|'.join(most)}|1 {one}:|2 {two}||")
        (tune,) = read_abc("X:1\nT:Long\nR:reel\nM:none\nL:1/8\nK:G\n" + "".join(written) + "\n")
        assert isinstance(tune, Tune), tune
        if sum(len(bar.notes) for bar in tune.bars) >= NOTES:
            return tune
    raise SystemExit("the demo tunes hold too few notes")


def median_ms(work, times: int = 7) -> float:
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(1000 * (time.perf_counter() - start))
    return statistics.median(taken)


def networkx_ms(tune: Tune, harps: list[Harp], player) -> float:
    """Milliseconds for all problems: one tune's notes as a path, by Dijkstra's algorithm."""
    sys.path.insert(0, str(ROOT / "tests" / "tab"))
    from played_effort import move_cost, note_cost

    notes = [note for bar in tune.bars for note in bar.notes]
    costs: dict[tuple[object, ...], int] = {}  # costs are given; only the search is timed
    total = 0.0
    sample = harps[:: max(1, len(harps) // SAMPLE)][:SAMPLE]
    for harp in sample:
        layers = [harp.ways.get(note.pitch.midi) or (None,) for note in notes]
        for one, two in pairwise(layers):
            for a in one:
                for b in two:
                    if (a, b) not in costs:
                        move = move_cost(player.weights, a, b, 0.25, False, False)
                        costs[a, b] = move + note_cost(player.weights, b, 0.25)
        start = time.perf_counter()
        graph = networkx.DiGraph()
        for i, (one, two) in enumerate(pairwise(layers)):
            for a in one:
                for b in two:
                    graph.add_edge((i, a), (i + 1, b), weight=costs[a, b])
        for a in layers[0]:
            graph.add_edge("start", (0, a), weight=0)
        for a in layers[-1]:
            graph.add_edge((len(layers) - 1, a), "end", weight=0)
        networkx.shortest_path(graph, "start", "end", weight="weight")
        total += time.perf_counter() - start
    return 1000 * total / len(sample) * len(harps) * len(OCTAVES)


def collection() -> list[Tune]:
    import music21

    folder = Path(music21.__file__).parent / "corpus" / "oneills1850"
    tunes = []
    for path in sorted(folder.glob("*.abc")):
        found = read_abc(path.read_text(encoding="utf-8", errors="replace"))
        tunes += [tune for tune in found if isinstance(tune, Tune)]
    return tunes


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--all", action="store_true", help="also the 1,850 tunes")
    args = parser.parse_args()
    player = load_profile("player")
    tunings = [read_tuning(SHIPPED / f"{name}.toml") for name in TUNINGS]
    harps = [make_harp(key, tuning) for tuning in tunings for key in KEYS]
    tune = long_tune()
    written = sum(len(bar.notes) for bar in tune.bars)
    problems = len(harps) * len(OCTAVES)
    rank_harps(tune, player, harps, octaves=OCTAVES)  # tables of the harps are kept
    ours = median_ms(lambda: rank_harps(tune, player, harps, octaves=OCTAVES))
    theirs = networkx_ms(tune, harps, player)
    print(f"one tune of {written} notes, {problems} problems: {ours:.1f} ms (goal {GOAL_MS:g})")
    print(f"NetworkX on the same, without repeats: {theirs:.0f} ms, ratio {theirs / ours:.0f}")
    good = ours < GOAL_MS
    if args.all:
        tunes = collection()
        start = time.perf_counter()
        for each in tunes:
            best_harp(each, player, harps, octaves=OCTAVES)
        seconds = time.perf_counter() - start
        each_ms = 1000 * seconds / max(len(tunes), 1)
        print(
            f"best of {problems} for each of {len(tunes)} tunes: {seconds:.1f} s "
            f"(goal {GOAL_ALL_SECONDS:g}), {each_ms:.1f} ms a tune"
        )
        good = good and seconds < GOAL_ALL_SECONDS
    return 0 if good else 1


if __name__ == "__main__":
    raise SystemExit(main())
