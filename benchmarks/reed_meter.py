"""How well the live reed meter reads, and what it costs, beside Praat on the same sound.

Run: `python benchmarks/reed_meter.py [seed]`. Reeds made by arithmetic (tests/workshop/
made_reeds.py), pink noise 30 dB under, are measured fifteen times a second, as the app does it.
What the meter says of a reed so many seconds after its first breath is compared with its true
pitch; Praat is told where the reed began and its range, and is given the same sound up to that
moment. Then two reeds of one note and their beats, and CPU seconds for each second of sound.
"""

# ruff: noqa: E402
from __future__ import annotations

import os
import sys
from pathlib import Path
from time import process_time

os.environ.setdefault("OMP_NUM_THREADS", "1")
for room in ("takes", "workshop"):
    sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / room))

import numpy as np
from made_reeds import MadeReed, Sound, laid
from reed_judges import any_reed, by_praat, cents

from reedwright.harp.making import parse_harp
from reedwright.web.bench.meter import Aim, Meter, Reading
from reedwright.workshop.targets.making import reed_targets

RATE, BLOCK = 48_000, 3200  # samples: fifteen times a second, as web/bench/line.py measures
START = 0.2  # seconds of silence before
MOMENTS = (0.25, 0.5, 1.0)  # seconds after the first breath
KEYS = range(43, 103, 2)


def readings(sound: Sound) -> tuple[list[tuple[float, Reading]], float]:
    """Every reading with the seconds of sound that it was given after; CPU seconds."""
    meter = Meter(RATE, Aim(reed_targets(parse_harp("C")), "C"))
    found: list[tuple[float, Reading]] = []
    begun = process_time()
    last = None
    for at in range(0, len(sound), BLOCK):
        read = meter.take(sound[at : at + BLOCK])
        if read is not None and (last is None or read.hz != last.hz):
            found.append((at / RATE + BLOCK / RATE, read))
        last = read
    return found, process_time() - begun


def singles(seed: int) -> None:
    random = np.random.default_rng(seed)
    errors: dict[tuple[str, float], list[float]] = {}
    spent = sounding = 0.0
    many = late = 0.0
    for k, key in enumerate(KEYS):
        hz = 440 * 2 ** ((key - 69 + random.uniform(-0.5, 0.5)) / 12)
        sound = laid([(START, any_reed(random, hz, 1.2))], 1.5, 30.0, k, RATE)
        found, seconds = readings(sound)
        spent, sounding = spent + seconds, sounding + len(sound) / RATE
        many += len(found) / 1.2
        late += found[0][0] - START if found else 1.2
        for moment in MOMENTS:
            end = START + moment
            before = [read for at, read in found if at <= end]
            ours = abs(cents(before[-1].hz, hz)) if before else np.nan
            errors.setdefault(("Reedwright", moment), []).append(ours)
            praat = by_praat(sound[: round(end * RATE)], RATE, START, end, hz)
            errors.setdefault(("Praat", moment), []).append(abs(cents(praat, hz)))
    print("| seconds since the first breath | by | median (cents) | 95 % | worst | none |")
    print("|---|---|---|---|---|---|")
    for moment in MOMENTS:
        for who in ("Reedwright", "Praat"):
            each = np.array(errors[who, moment])
            known = each[np.isfinite(each)]
            median, most, worst = np.percentile(known, (50, 95, 100))
            print(
                f"| {moment} | {who} | {median:.3f} | {most:.3f} | {worst:.3f} "
                f"| {len(each) - len(known)} |"
            )
    count = len(KEYS)
    print(
        f"\n{count} reeds: first reading {late / count:.2f} s after the first breath, "
        f"{many / count:.1f} new readings a second, {spent / sounding:.2f} CPU seconds for each "
        "second of sound."
    )


def pairs(seed: int) -> None:
    random = np.random.default_rng(seed)
    off: list[float] = []
    missed = 0
    spent = sounding = 0.0
    for k in range(12):
        hz, rate = 150 * 2 ** random.uniform(0, 2.5), random.uniform(1.0, 5.0)
        two = [MadeReed(hz, 1.4), MadeReed(hz + rate, 1.4, phase=random.uniform(0, 1))]
        sound = laid([(START, each) for each in two], 1.7, 30.0, k, RATE)
        found, seconds = readings(sound)
        spent, sounding = spent + seconds, sounding + len(sound) / RATE
        within = [read for at, read in found if at <= START + 1.2 and read.beats is not None]
        if not within or within[-1].beats is None:
            missed += 1
            continue
        off.append(abs(within[-1].beats - rate))
    median, worst = np.percentile(off, (50, 100)) if off else (np.nan, np.nan)
    print(
        f"\nTwo reeds of one note 1.2 s after the first breath: {len(off)} of {len(off) + missed} "
        f"read as two, beats {median:.4f} Hz off in the median, {worst:.4f} at worst; "
        f"{spent / sounding:.2f} CPU seconds for each second of sound."
    )


if __name__ == "__main__":
    chosen = int(sys.argv[1]) if len(sys.argv) > 1 else 2026
    print(f"seed {chosen}\n")
    singles(chosen)
    pairs(chosen)
