"""How well reeds are measured, beside Praat and pYIN in the same run.

Run: `python benchmarks/reed_measuring.py [seed]`. Reeds made by arithmetic (tests/workshop/
made_reeds.py) and a General MIDI soundfont's harmonica (soundfont_reeds.py), pink noise 30 dB
under; then whether uncertainties are honest, pairs and their beats, finding, rooms, speed, memory.
"""

# ruff: noqa: E402
from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from time import process_time

os.environ.setdefault("OMP_NUM_THREADS", "1")
for room in ("takes", "workshop"):
    sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / room))

import numpy as np
from made_reeds import RATE, MadeReed, Sound, laid
from reed_judges import (
    alone,
    any_reed,
    by_praat,
    by_pyin,
    cents,
    ends,
    heard,
    in_a_room,
    in_a_row,
    matching,
)
from soundfont_reeds import soundfont_reeds, true_pitches
from soundfont_takes import RATE as FONT_RATE
from soundfont_takes import Played

from reedwright.workshop.measuring.listening import ReedListener

KEYS = range(43, 103)  # low G's hole 1 to F sharp's hole 10
INTERVALS = {(1, 1): 1.0, (2, 1): 2.0, (3, 1): 3.0, (3, 2): 1.5, (4, 3): 4 / 3, (5, 4): 1.25}
INTERVALS |= {(6, 5): 1.2, (5, 3): 5 / 3}

Case = tuple[Sound, int, float, float, float]  # sound, rate, start, end, true pitch


def made(random: np.random.Generator, seconds: float) -> Iterable[Case]:
    for k, key in enumerate(KEYS):
        hz = 440 * 2 ** ((key - 69 + random.uniform(-0.5, 0.5)) / 12)
        reed = any_reed(random, hz, seconds)
        yield alone(reed, RATE, 30.0, k), RATE, 0.2, 0.2 + seconds, hz


def from_soundfont(random: np.random.Generator, seconds: float) -> Iterable[Case]:
    keys = tuple(round(key + random.uniform(-0.4, 0.4), 2) for key in KEYS)
    true = true_pitches(keys)
    for k, key in enumerate(keys):
        note = Played(0.2, 0.2 + seconds, key)
        yield soundfont_reeds([note], 30.0, k), FONT_RATE, 0.2, 0.2 + seconds, true[key]


def singles(name: str, cases: Callable[[], Iterable[Case]]) -> None:
    ours, praat, pyin = [], [], []
    spent = [0.0, 0.0, 0.0]
    missed = 0
    for sound, rate, start, end, hz in cases():
        begun = process_time()
        tones = heard(sound, rate)
        spent[0] += process_time() - begun
        found = matching(tones, start, hz)
        if len(tones) != 1 or len(found) != 1 or found[0].upper_hz:
            missed += 1
        else:
            ours.append(abs(cents(found[0].hz, hz)))
        for k, (judge, errors) in enumerate(((by_praat, praat), (by_pyin, pyin)), start=1):
            begun = process_time()
            errors.append(abs(cents(judge(sound, rate, start, end, hz), hz)))
            spent[k] += process_time() - begun
    for who, errors, seconds in zip(
        ("Reedwright", "Praat", "pYIN"), (ours, praat, pyin), spent, strict=True
    ):
        known = np.array(errors)[np.isfinite(errors)]
        lost = missed if who == "Reedwright" else len(errors) - len(known)
        median, most, worst = np.percentile(known, (50, 95, 100))
        print(
            f"| {name} | {who} | {median:.3f} | {most:.3f} | {worst:.3f} | {lost} | {seconds:.1f} |"
        )


def coverage(seed: int) -> None:
    print(
        "\n| uncertainty honest? | tones | within 1 | within 2 | rms of error/uncertainty | worst |"
    )
    print("|---|---|---|---|---|---|")
    for noise in (30.0, 20.0, 15.0):
        for seconds in (0.3, 1.0):
            random = np.random.default_rng(seed)
            ratios = []
            for k in range(150):
                hz = 100 * 2 ** random.uniform(0, 5)
                reed = any_reed(random, hz, seconds)
                for tone in matching(heard(alone(reed, RATE, noise, k), RATE), 0.2, hz):
                    ratios.append(cents(tone.hz, hz) / tone.uncertainty)
            off = np.abs(ratios)
            print(
                f"| noise {noise:.0f} dB under, {seconds} s | {len(off)} | {np.mean(off < 1):.2f} "
                f"| {np.mean(off < 2):.2f} | {np.sqrt(np.mean(off**2)):.2f} | {off.max():.1f} |"
            )


def pairs(seed: int) -> None:
    print(
        "\n| pair | seconds | found | beats off, median (Hz) | worst | pitch off, worst (cents) |"
    )
    print("|---|---|---|---|---|---|")
    for seconds in (3.0, 1.0):
        random = np.random.default_rng(seed)
        for (m, n), ratio in INTERVALS.items():
            off, pitch, tried = [], [], 0
            for k in range(25):
                low = 130 * 2 ** random.uniform(0, 3.3 if ratio < 2 else 2.3)
                slowest = 0.3 if seconds > 2 else 1.2
                rate = random.uniform(slowest, min(8.0, 0.03 * m * low))
                if m != n:
                    rate *= random.choice([-1, 1])
                high = (m * low + rate) / n
                both = [(0.2, any_reed(random, hz, seconds)) for hz in (low, high)]
                tones = heard(laid(both, seconds + 0.6, 30.0, k), RATE)
                tried += 1
                if len(tones) != 1 or tones[0].beats is None or tones[0].beats.partials != (m, n):
                    continue
                off.append(abs(tones[0].beats.rate - abs(rate)))
                pitch += [abs(cents(tones[0].hz, low)), abs(cents(tones[0].upper_hz, high))]
            print(
                f"| {m}:{n} | {seconds:.0f} | {len(off)} of {tried} | {np.median(off):.4f} "
                f"| {max(off):.4f} | {max(pitch):.3f} |"
            )


def soundfont_pairs(seed: int) -> None:
    random = np.random.default_rng(seed)
    off, pitch, found, worst = [], [], 0, ""
    asked = [(48, 60), (55, 67), (60, 72), (67, 79), (76, 88), (60, 64), (64, 67), (67, 72)]
    asked += [(62, 67), (67, 71), (71, 74), (74, 77), (79, 84), (60, 60), (67, 67), (74, 74)]
    chosen = [
        (low + round(random.uniform(-0.2, 0.2), 2), high + round(random.uniform(-0.2, 0.2), 2))
        for low, high in asked
    ]
    true = true_pitches(tuple(sorted({each for pair in chosen for each in pair})))
    for k, pair in enumerate(chosen):
        low, high = sorted(true[each] for each in pair)
        notes = [Played(0.2, 3.2, each) for each in pair]
        tones = heard(soundfont_reeds(notes, 30.0, k), FONT_RATE)
        if len(tones) != 1 or tones[0].beats is None:
            print(f"not found: {low:.2f} and {high:.2f} Hz: {tones}")
            continue
        found += 1
        m, n = tones[0].beats.partials
        off.append(abs(tones[0].beats.rate - abs(m * low - n * high)))
        pitch += [abs(cents(tones[0].hz, low)), abs(cents(tones[0].upper_hz, high))]
        worst = f"{low:.2f} and {high:.2f} Hz" if off[-1] == max(off) else worst
    print(
        f"\nSoundfont's pairs, 3 s: {found} of {len(chosen)} found, beats {np.median(off):.4f} Hz "
        f"off in the median, {max(off):.4f} at worst ({worst}), pitch {max(pitch):.3f} cents."
    )


def finding(seed: int) -> None:
    print(
        "\n| played in a row | tones | found | too many | pitch off, median, worst (cents) ", end=""
    )
    print("| start off, median, worst (ms) | end |")
    print("|---|---|---|---|---|---|---|")
    for name, noise, seconds in (
        ("dry, 30 dB", 30.0, 0.0),
        ("dry, 15 dB", 15.0, 0.0),
        ("room of 0.3 s, 30 dB", 30.0, 0.3),
        ("room of 0.6 s, 30 dB", 30.0, 0.6),
        ("room of 1 s, 30 dB", 30.0, 1.0),
    ):
        random = np.random.default_rng(seed)
        played = found = more = 0
        off, starts, stops = [], [], []
        for k in range(15):
            row = in_a_row(random, 12, (0.0, 0.1, 0.15, 0.3, 0.5), (0.3, 0.6, 1.0))
            sound = laid(row, ends(row), None)
            if seconds:
                sound = in_a_room(sound, RATE, seconds, k)
            sound = sound + laid([], ends(row), noise, k)
            tones = heard(sound, RATE)
            played += len(row)
            more += max(0, len(tones) - len(row))
            for start, reed in row:
                mine = matching(tones, start, reed.hz)
                if len(mine) != 1:
                    continue
                found += 1
                off.append(abs(cents(mine[0].hz, reed.hz)))
                starts.append(1000 * abs(mine[0].start - start))
                stops.append(1000 * abs(mine[0].end - start - reed.seconds))
        print(
            f"| {name} | {played} | {found} | {more} | {np.median(off):.3f}, {max(off):.3f} "
            f"| {np.median(starts):.0f}, {max(starts):.0f} "
            f"| {np.median(stops):.0f}, {max(stops):.0f} |"
        )


def speed(seed: int) -> None:
    random = np.random.default_rng(seed)
    row = in_a_row(random, 60, (0.15, 0.5), (0.6, 1.0))
    sound = laid(row, ends(row), 30.0)
    begun = process_time()
    heard(sound, RATE)
    spent = process_time() - begun
    drone = laid([(0.0, MadeReed(311.0, 60.0))], 60.0, 30.0)
    listener = ReedListener(RATE)
    fed, kept, count = 0, 0, 0
    while fed < 3_600 * RATE:
        for part in (sound, drone):
            for first in range(0, len(part), RATE):
                count += len(listener.feed(part[first : first + RATE]))
                kept = max(kept, listener.kept)
            fed += len(part)
    print(
        f"\nA minute of reeds in {60 * spent / (len(sound) / RATE):.1f} s of one core. Of an hour "
        f"({count} tones, drones of a minute between) at most {kept / RATE:.0f} s are in memory."
    )


def main() -> None:
    seed = int(sys.argv[1]) if len(sys.argv) > 1 else 2_026
    print("| reeds, noise 30 dB under | by | median (cents) | 95 % | worst | lost | CPU s |")
    print("|---|---|---|---|---|---|---|")
    for seconds in (1.0, 0.3):
        for name, kind in (("made", made), ("soundfont", from_soundfont)):
            random = np.random.default_rng(seed)
            singles(f"{name}, {seconds} s", lambda k=kind, r=random, s=seconds: k(r, s))
    coverage(seed + 1)
    pairs(seed + 2)
    soundfont_pairs(seed + 3)
    finding(seed + 4)
    speed(seed + 5)


if __name__ == "__main__":
    main()
