"""How surely and how fast the shelf finds tunes.

    python benchmarks/shelf_finding.py [--tunes 50000] [--queries 500] [--seed N] [--shelf FOLDER]

Notes: eight notes with one error (a note wrong by one to three semitones, one left out, or one too
many), typed in ABC as a person would, from where the tune begins, from where any of its parts
begins, and from anywhere; without and with their lengths. On all tunes of the collections that ship
with music21, and on a library of 50,000 made of them (`shelf_corpus`), where another setting of the
same original counts as found, too, beside the strict count. Speed: kinds of questions, in one
process after the first, and the first one of all.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

from reedwright.harp.making import make_harp
from reedwright.shelf.facts.keeping import facts_on
from reedwright.shelf.filling.importing import ImportOptions, import_tunes
from reedwright.shelf.finding import known
from reedwright.shelf.finding.model import Wanted
from reedwright.shelf.finding.searching import search
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Kind
from reedwright.tune.likeness.melody import MelodyNote
from shelf_corpus import make_corpus, read_manifest

SEED = 90_125
NOTES = 8
FIRST = 5
_NAMES = ("C", "^C", "D", "^D", "E", "F", "^F", "G", "^G", "A", "^A", "B")


class Asked(NamedTuple):
    """A query and the tune that it comes from."""

    item: int
    notes: tuple[MelodyNote, ...]


def written(notes: Sequence[MelodyNote], rhythm: bool) -> str:
    """ABC for key C with every accidental written; lengths in quavers where wanted."""
    said = []
    for note in notes:
        octave, step = divmod(note.midi - 60, 12)
        name = _NAMES[step] if _NAMES[step].startswith("^") else f"={_NAMES[step]}"
        marks = "'" * octave if octave > 0 else "," * -octave
        length = max(Fraction(note.length * 2).limit_denominator(48), Fraction(1, 48))
        said.append(f"{name}{marks}{length if rhythm else ''}")
    return " ".join(said)


def with_error(notes: Sequence[MelodyNote], lot: random.Random) -> tuple[MelodyNote, ...]:
    """One note wrong, left out or added, not the first."""
    changed = list(notes)
    at = lot.randrange(1, NOTES)
    kind = lot.choice(("wrong", "missed", "added"))
    if kind == "missed":
        del changed[at]
        return tuple(changed[:NOTES])
    off = lot.choice((-3, -2, -1, 1, 2, 3))
    other = changed[at]._replace(midi=changed[at].midi + off)
    if kind == "wrong":
        changed[at] = other
        return tuple(changed[:NOTES])
    changed.insert(at, other)
    return tuple(changed[:NOTES])


def asked(shelf: Shelf, items: Sequence[int], where: str, lot: random.Random) -> Asked | None:
    """Nine notes (one may be left out) of a tune chosen by lot."""
    item = lot.choice(items)
    facts = facts_on(shelf, item)
    if facts is None or not facts.melody or len(facts.melody[0]) < 2 * NOTES:
        return None
    strips = facts.melody
    if where == "tune":
        at, strip = 0, strips[0]
    elif where == "part":
        # A part begins with the tune, or behind an eighth bar (common practice of dance tunes).
        strip = strips[0]
        bars = [
            k
            for k, note in enumerate(strip)
            if note.bar % 8 == 1 and (k == 0 or strip[k - 1].bar != note.bar)
        ]
        if not bars:
            return None
        at = lot.choice(bars)
    else:
        strip = max(strips, key=len)
        at = lot.randrange(len(strip) - NOTES)
    notes = strip[at : at + NOTES + 1]
    return Asked(item, tuple(notes)) if len(notes) > NOTES else None


def measure_notes(
    shelf: Shelf, queries: int, seed: int, same: Callable[[int, int], bool], told: str
) -> None:
    items = [row[0] for row in shelf.db.execute("SELECT item FROM fact WHERE notes > 15")]
    print(f"\n{told}: {len(items)} tunes, {queries} queries of {NOTES} notes with one error")
    print(f"  {'from':<12} {'lengths':<8} {'first':>8} {'first five':>11} {'strictly':>9}")
    for where in ("tune", "part", "anywhere"):
        for rhythm in (False, True):
            lot = random.Random(f"{seed} {where}")
            first = five = strict = done = 0
            while done < queries:
                query = asked(shelf, items, where, lot)
                if query is None:
                    continue
                done += 1
                text = written(with_error(query.notes, lot), rhythm)
                wanted = Wanted(notes=text, notes_key="C", limit=FIRST)
                found = [hit.item for hit in search(shelf, wanted).hits]
                strict += query.item in found
                right = [same(query.item, item) for item in found]
                five += any(right)
                first += bool(right) and right[0]
            print(
                f"  {where:<12} {'typed' if rhythm else 'none':<8} {first / queries:8.1%} "
                f"{five / queries:11.1%} {strict / queries:9.1%}"
            )


def measure_speed(shelf: Shelf, seed: int) -> None:
    lot = random.Random(seed)
    rows = shelf.db.execute("SELECT item, title FROM fact WHERE notes > 15").fetchall()
    some = [lot.choice(rows) for _ in range(60)]
    words = [title.split() for _, title in some if len(title.split()) > 1]
    typing_errors = ["".join(lot.sample(each[0], len(each[0]))) for each in words[:30]]
    notes = []
    for item, _ in some[:40]:
        query = asked(shelf, [item], "tune", lot)
        if query is not None:
            notes.append(written(query.notes[:NOTES], False))
    g, low_d = make_harp("G"), make_harp("D", register="low")
    kinds: dict[str, list[Wanted]] = {
        "words": [Wanted(words=" ".join(each[:3])) for each in words],
        "misspelt words": [Wanted(words=each) for each in typing_errors],
        "one letter": [Wanted(words=each[0][0]) for each in words[:30]],
        "type, key": [Wanted(types=("reel",), keys=(key,)) for key in "GDAECF"] * 4,
        "no bends": [Wanted(plain_on=(g, low_d), octaves=(-1, 0, 1))] * 20,
        "words, no bends": [Wanted(words=each[0], plain_on=(g,)) for each in words[:30]],
        "notes": [Wanted(notes=each, notes_key="C") for each in notes],
        "notes, no key": [Wanted(notes=each) for each in notes],
        "contour": [Wanted(contour="*UDUDDUUDRUD")] * 10,
        "like": [Wanted(like=item) for item, _ in some[:40]],
    }
    print("\nmilliseconds of a question     median    p95    worst")
    everything: list[float] = []
    for kind, questions in kinds.items():
        search(shelf, questions[0])
        times = []
        for question in questions:
            begun = time.perf_counter()
            search(shelf, question)
            times.append(1000 * (time.perf_counter() - begun))
        everything += times
        times.sort()
        p95 = times[int(0.95 * (len(times) - 1))]
        print(f"  {kind:<28} {statistics.median(times):7.1f} {p95:7.1f} {times[-1]:8.1f}")
    everything.sort()
    print(
        f"  {'all of these':<28} {statistics.median(everything):7.1f} "
        f"{everything[int(0.95 * (len(everything) - 1))]:7.1f} {everything[-1]:8.1f}"
    )


def measure_first(folder: Path) -> None:
    """The first question of a process, with the shelf opened; what was known is forgotten."""
    print("\nthe first question of a process, shelf opened, milliseconds")
    for kind, question in (
        ("words", Wanted(words="the latch")),
        ("misspelt words", Wanted(words="lacth")),
        ("notes", Wanted(notes="GABcdBGB")),
    ):
        known._known.clear()
        begun = time.perf_counter()
        with open_shelf(folder) as shelf:
            search(shelf, question)
        print(f"  {kind:<28} {1000 * (time.perf_counter() - begun):7.0f}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--tunes", type=int, default=50_000)
    parser.add_argument("--queries", type=int, default=500)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--folder", type=Path, help="where library and shelves are, or are made")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        place = args.folder or Path(temporary)
        corpus = place / "corpus"
        if not corpus.exists():
            make_corpus(corpus, args.tunes)
        with open_shelf(place / "shelf") as shelf:
            if not shelf.counts().get(Kind.TUNE):
                import_tunes(shelf, [corpus], ImportOptions(settings=False, grade=False))
            measure_speed(shelf, args.seed)
            originals = _originals(shelf, corpus)
            measure_notes(
                shelf,
                args.queries,
                args.seed,
                lambda one, other: originals.get(one, one) == originals.get(other, -other),
                "the library, settings of one original alike",
            )
        for name, folder in (("dance tunes", "oneills1850"), ("all real tunes", "")):
            with open_shelf(place / f"real-{folder}") as shelf:
                if not shelf.counts().get(Kind.TUNE):
                    only = ImportOptions(settings=False, grade=False)
                    import_tunes(shelf, [corpus / "originals" / folder], only)
                measure_notes(shelf, args.queries, args.seed, lambda one, other: one == other, name)
        measure_first(place / "shelf")


def _originals(shelf: Shelf, corpus: Path) -> dict[int, str]:
    """The original that each tune of the shelf was made of, by file, number and title."""
    made = {(row.file, row.number, row.title): row.original for row in read_manifest(corpus)}
    found: dict[int, str] = {}
    folder = f"{corpus.resolve()}/"
    for item in shelf.items(Kind.TUNE):
        file = str(item.state.about.get("file", "")).removeprefix(folder).replace(".zip: ", ".zip/")
        key = (file, str(item.state.about.get("number", "")), item.name)
        if key in made:
            found[item.id] = made[key]
    print(f"originals known of {len(found)} tunes")
    return found


if __name__ == "__main__":
    main()
