"""How fast breath is counted and planned, and how many breaths real tunes get.

    python benchmarks/breath.py             the times, for a demo tune of 250 notes as played
    python benchmarks/breath.py --count     marks in 250 tunes of the 1850 collection too

Each of the 250 tunes (drawn with a fixed seed) is arranged on the harp that suits it best, at its
usual tempo, for the profile `player`; docs/breath.md has the table.
"""

from __future__ import annotations

import argparse
import os
import random
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(threads, "1")

from reedwright.player.loading import load_profile  # noqa: E402
from reedwright.tab.arrangement import Arrangement  # noqa: E402
from reedwright.tab.best import arrange_on_best  # noqa: E402
from reedwright.tab.breath.account import breath_account  # noqa: E402
from reedwright.tab.breath.plan import PRACTICE_SPEEDS, plan_breaths, practice_breaths  # noqa: E402
from reedwright.tune.abc import read_abc  # noqa: E402
from reedwright.tune.model import Tune  # noqa: E402
from reedwright.tune.unfold import unfold  # noqa: E402

ROOT = Path(__file__).resolve().parents[1]
TUNES = 250
REPEATS = 30


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", action="store_true", help="also count marks in real tunes")
    arguments = parser.parse_args()
    player = load_profile("player")
    demo = [
        t for t in read_abc((ROOT / "examples" / "tunes.abc").read_text()) if isinstance(t, Tune)
    ]
    tune = max(demo, key=lambda each: len(unfold(each).notes))
    measure(arrange_on_best(tune, player))
    if arguments.count:
        count([arrange_on_best(each, player) for each in collection()])


def measure(arrangement: Arrangement) -> None:
    performance = unfold(arrangement.tune)
    print(f"{arrangement.tune.title}: {len(performance.notes)} notes as played, best of {REPEATS}")
    for name, work in (
        ("account", lambda: breath_account(arrangement, performance=performance)),
        ("account and playing out", lambda: breath_account(arrangement)),
        ("plan at full speed", lambda: plan_breaths(arrangement, performance=performance)),
        ("plan at full speed and playing out", lambda: plan_breaths(arrangement)),
        ("plans at both speeds", lambda: practice_breaths(arrangement)),
    ):
        print(f"  {name}: {best_ms(work):.2f} ms")


def best_ms(work: Callable[[], object]) -> float:
    times = []
    for _ in range(REPEATS):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return 1000 * min(times)


def collection() -> list[Tune]:
    import music21

    folder = Path(music21.__file__).parent / "corpus" / "oneills1850"
    files = sorted(folder.glob("*.abc"))
    tunes = [each for file in files for each in read_abc(file.read_text(errors="replace"))]
    whole = [each for each in tunes if isinstance(each, Tune)]
    random.Random(3).shuffle(whole)
    return whole[:TUNES]


def count(arrangements: list[Arrangement]) -> None:
    for speed in PRACTICE_SPEEDS:
        plans = [plan_breaths(each, speed=speed) for each in arrangements]
        marks = sorted(Counter(len(plan.marks) for plan in plans).items())
        reasons = Counter(mark.reason.value for plan in plans for mark in plan.marks)
        without = sum(1 for plan in plans if plan.without.passings)
        left = sum(1 for plan in plans if plan.trouble)
        print(f"at {round(100 * speed)} per cent of the speed, {len(plans)} tunes:")
        print(f"  run full or empty without breaths: {without}, with them: {left}")
        print("  tunes by breath marks:", ", ".join(f"{n}: {tunes}" for n, tunes in marks))
        print("  marks by reason:", ", ".join(f"{r}: {n}" for r, n in reasons.most_common()))


if __name__ == "__main__":
    main()
