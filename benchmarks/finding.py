"""How well and how fast a tune is found, in the collections that ship with music21.

    python benchmarks/finding.py [--queries N] [--takes N]

Excerpts of the 1850 collection are moved to another key and speed, with slips and ornaments, and
looked for in it; a hit is a tune that has exactly the notes that the excerpt was taken from.
Then excerpts of four seconds played by FluidSynth's harmonica are heard and looked for. Last,
the time of a search in collections of growing size, up to 50,000 tunes (copies in which
notes are changed by lot). Seconds are of the processor.
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path
from typing import NamedTuple

import numpy as np

TESTS = Path(__file__).parents[1] / "tests"
sys.path[:0] = [str(TESTS / "takes"), str(TESTS / "tune")]

from likeness_excerpts import Excerpt, excerpt, holds  # noqa: E402
from soundfont_takes import RATE, Played, sounded  # noqa: E402

from reedwright.sound.hearing.listening import hear_sound  # noqa: E402
from reedwright.takes.asking import query_of  # noqa: E402
from reedwright.tune.likeness.collection import (  # noqa: E402
    Collection,
    build_collection,
    collection_of,
)
from reedwright.tune.likeness.finding import find  # noqa: E402
from reedwright.tune.likeness.melody import MelodyNote, strips  # noqa: E402
from reedwright.tune.likeness.model import Listed, Query  # noqa: E402
from reedwright.tune.model import Tune  # noqa: E402
from reedwright.tune.reading import read_tunes  # noqa: E402

SEED = 60
CORPORA = ("oneills1850", "ryansMammoth", "airdsAirs", "essenFolksong")
SIZES = (2_000, 10_000, 50_000)


class Row(NamedTuple):
    first: float
    five: float
    milliseconds: float


def tunes_of(corpus: str) -> list[Tune]:
    import music21

    folder = Path(music21.__file__).parent / "corpus" / corpus
    read = [tune for file in sorted(folder.glob("*.abc")) for tune in read_tunes(file)]
    return [tune for tune in read if isinstance(tune, Tune)]


def judged(collection: Collection, taken: list[Excerpt], queries: list[Query]) -> Row:
    first = five = 0
    spent = 0.0
    for each, query in zip(taken, queries, strict=True):
        start = time.process_time()
        matches = find(collection, query, 5) if len(query.notes) >= 4 else []
        spent += time.process_time() - start
        right = [holds(collection, match.index, each) for match in matches]
        first += bool(right and right[0])
        five += any(right)
    count = len(taken)
    return Row(first / count, five / count, 1000 * spent / count)


def print_row(what: str, row: Row) -> None:
    print(f"| {what} | {row.first:.0%} | {row.five:.0%} | {row.milliseconds:.0f} |", flush=True)


def symbolic(collection: Collection, count: int) -> None:
    print("| excerpt | first | in five | ms |\n| --- | --- | --- | --- |")
    for notes in (6, 8, 10, None):
        for edits in (0, 1, 2):
            for ornaments in (0, 2):
                random = np.random.default_rng(SEED)
                taken = [
                    excerpt(collection, random, notes, edits=edits, ornaments=ornaments)
                    for _ in range(count)
                ]
                what = f"{notes} notes" if notes else "4 seconds"
                what += f", {edits} slips, {ornaments} ornaments"
                print_row(what, judged(collection, taken, [each.query for each in taken]))


def played(collection: Collection, count: int) -> None:
    """Four seconds each, half with noise at 20 dB, through sound and hearing."""
    random = np.random.default_rng(SEED)
    for noise in (None, 20.0):
        taken, queries = [], []
        for k in range(count):
            each = excerpt(collection, random)
            notes = [
                Played(0.3 + n.onset, 0.3 + n.onset + max(n.length, 0.06), n.midi)
                for n in each.query.notes
            ]
            take = sounded(notes, reverberation=0.2, noise_db=noise, seed=k)
            taken.append(each)
            queries.append(query_of(hear_sound(take.sound, RATE)))
        what = "played, 4 seconds" + (f", noise at {noise:.0f} dB" if noise else "")
        print_row(what, judged(collection, taken, queries))


def growing(tunes: list[Tune], count: int) -> None:
    """Copies of tunes with one note in six changed stand for tunes that do not exist."""
    random = np.random.default_rng(SEED)
    melodies = [(Listed(t.number, t.title, "", t.type, "", ""), strips(t)) for t in tunes]

    def changed(note: MelodyNote) -> MelodyNote:
        if random.random() > 1 / 6:
            return note
        return note._replace(midi=note.midi + int(random.integers(-4, 5)))

    print("\n| tunes | notes | built, s | 10 notes, ms | 4 seconds, ms | first of 10 notes |")
    print("| --- | --- | --- | --- | --- | --- |")
    for size in SIZES:
        many = [melodies[k % len(melodies)] for k in range(size)]
        start = time.process_time()
        collection = collection_of(
            (listed, parts if k < len(melodies) else [[changed(n) for n in p] for p in parts])
            for k, (listed, parts) in enumerate(many)
        )
        built = time.process_time() - start
        rows = []
        for notes in (10, None):
            taken = [excerpt(collection, random, notes, edits=1) for _ in range(count)]
            rows.append(judged(collection, taken, [each.query for each in taken]))
        print(
            f"| {size} | {len(collection.midi)} | {built:.1f} | {rows[0].milliseconds:.0f} "
            f"| {rows[1].milliseconds:.0f} | {rows[0].first:.0%} |",
            flush=True,
        )


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--queries", type=int, default=100)
    options.add_argument("--takes", type=int, default=30)
    chosen = options.parse_args()
    every: list[Tune] = []
    print("| collection | tunes | read, s | indexed, s | 10 notes, ms |\n" + "| --- " * 5 + "|")
    for corpus in CORPORA:
        start = time.process_time()
        tunes = tunes_of(corpus)
        read = time.process_time() - start
        collection = build_collection(tunes)
        built = time.process_time() - start - read
        random = np.random.default_rng(SEED)
        taken = [excerpt(collection, random, 10, edits=1) for _ in range(20)]
        row = judged(collection, taken, [each.query for each in taken])
        print(f"| {corpus} | {len(tunes)} | {read:.1f} | {built:.1f} | {row.milliseconds:.0f} |")
        if corpus == CORPORA[0]:
            searched = collection
        every += tunes
    print()
    symbolic(searched, chosen.queries)
    played(searched, chosen.takes)
    growing(every, 20)
    return 0


if __name__ == "__main__":
    sys.exit(main())
