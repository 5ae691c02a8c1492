"""Which reed is which: rows of reeds over keys and tunings, beside what was played.

    python benchmarks/reed_naming.py                     200 rows of each symbolic kind
    python benchmarks/reed_naming.py --sounded 200       as sound, too: made reeds and FluidSynth's
    python benchmarks/reed_naming.py --rows 1000 --seed 7 --hard

Shuffled rows hold every reed of a harp once in any order; rows as played follow one of nine
orders. Both leave reeds out (3 in 100), sound some again, and hold stray sounds; rows as played
go back now and then. Every reed is off by N(0, 15) cents (45 at most), every harp by N(0, 8),
of A 440, 442 or 443 in one of three temperaments. `--hard`: N(0, 25) and N(0, 25). Half of the
sounded rows are made by arithmetic, half are FluidSynth's harmonica, over pink noise at 30 dB.

`strictly`: the reed named is the reed played. `owned up`: or it is among the others that are
named as possible.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections import defaultdict
from collections.abc import Callable, Sequence
from pathlib import Path

for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(threads, "1")
for folder in ("workshop", "takes"):
    sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / folder))

import numpy as np  # noqa: E402
import played_reeds  # noqa: E402
from played_reeds import Count, PlayedRow, count, row_as_played, row_shuffled  # noqa: E402
from sounded_rows import count_sounded, sounded_row, wrong_names  # noqa: E402

from reedwright.harp.model import Reed  # noqa: E402
from reedwright.workshop.measuring.naming import name_reeds  # noqa: E402

GOAL = 0.99
EARLIER_MEASURE = 1.5  # cents
KINDS: dict[str, Callable[[int], PlayedRow]] = {
    "shuffled": row_shuffled,
    "as played": row_as_played,
}


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--rows", type=int, default=200)
    parser.add_argument("--sounded", type=int, default=0, metavar="N")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--hard", action="store_true")
    parser.add_argument("--each", action="store_true", help="tell of every wrong name in sound")
    args = parser.parse_args(arguments)
    if args.hard:
        played_reeds.REED_OFF, played_reeds.HARP_SHIFT = 25.0, 25.0
    for kind, make in KINDS.items():
        symbolic(kind, make, args.rows, args.seed, args.hard)
    symbolic("shuffled", row_shuffled, args.rows, args.seed, args.hard, known=True)
    if args.sounded:
        sounded(args.sounded, args.seed, args.each)
    return 0


def symbolic(
    kind: str,
    make: Callable[[int], PlayedRow],
    rows: int,
    seed: int,
    hard: bool,
    known: bool = False,
) -> None:
    """`known`: the harp was measured before, each reed to N(0, 1.5) cents."""
    total, by_tuning = Count(0, 0, 0, 0, 0), defaultdict(lambda: Count(0, 0, 0, 0, 0))
    spent = 0.0
    for k in range(rows):
        row = make(1_000_000 * seed + k)
        begun = time.process_time()
        before = measured_before(row, seed + k) if known else None
        measurement = name_reeds(row.tones, row.targets, before=before)
        spent += time.process_time() - begun
        found = count(row, measurement)
        total += found
        by_tuning[row.targets.harp.tuning.name] += found
    said = f"{', harp measured before' if known else ''}{', hard' if hard else ''}"
    print(f"{kind}{said}, {rows} rows: {_words(total)}; "
          f"{1000 * spent / rows:.0f} ms a row")  # fmt: skip
    for name, each in sorted(by_tuning.items()):
        print(f"    {name:<24} {_words(each)}")


def measured_before(row: PlayedRow, seed: int) -> dict[Reed, float]:
    random = np.random.default_rng(seed)
    return {
        each.reed: each.bench_hz
        * 2 ** ((row.off[each.reed] + random.normal(0, EARLIER_MEASURE)) / 1200)
        for each in row.targets.reeds
    }


def sounded(rows: int, seed: int, each: bool) -> None:
    from reedwright.workshop.measuring.listening import ReedListener

    totals: dict[tuple[str, str], Count] = defaultdict(lambda: Count(0, 0, 0, 0, 0))
    extras: dict[tuple[str, str], int] = defaultdict(int)
    for k in range(rows):
        kind = list(KINDS)[k % 2]
        soundfont = k % 4 >= 2
        row = KINDS[kind](1_000_000 * seed + 500_000 + k)
        made = sounded_row(row, k, soundfont)
        listener = ReedListener(made.rate)
        tones = [*listener.feed(made.sound), *listener.finish()]
        measurement = name_reeds(tones, row.targets)
        name = kind, "FluidSynth" if soundfont else "made"
        found, extra = count_sounded(made, measurement)
        totals[name] += found
        extras[name] += extra
        if each and kind != "shuffled":
            for reed, start in wrong_names(made, measurement):
                print(f"  row {k} ({row.family}): {reed.hole} {reed.breath} at {start:.1f} s")
        if (k + 1) % 20 == 0:
            print(f"  {k + 1} rows", file=sys.stderr, flush=True)
    for (kind, source), total in totals.items():
        print(f"{kind}, {source}: {_words(total)}; {extras[kind, source]} tones too many")


def _words(total: Count) -> str:
    strict, near = total.right / total.tones, total.near / total.tones
    return (
        f"{total.tones} reeds, {100 * strict:.2f} % strictly, {100 * near:.2f} % owned up"
        f"{'' if near >= GOAL else ' (under the goal)'}; {total.left_alone} of {total.strays} "
        "stray sounds given to no reed"
    )


if __name__ == "__main__":
    raise SystemExit(main())
