"""How surely settings of one tune are known from each other and from other tunes.

    python benchmarks/sameness.py [--tunes N] [--seed N] [--sample N]

All collections of ABC that music21 ships are one pool. Settings made of some of their tunes
(tests/tune/settings_made.py) are looked for in it: found is a setting for which the tune that it
was made of is offered. Then all tunes of the pool are compared with each other, and with tunes
played backwards, which nobody can be a setting of: what is offered of these tells how much of
what is offered is chance. `--sample` prints pairs of different tunes that are offered, as notes
on notes, to be judged by eye. Seconds are of the processor.
"""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "tune"))

from settings_made import MAKINGS, made

from reedwright.tune.likeness.differing import Differing, differing, differing_words
from reedwright.tune.likeness.melody import strips
from reedwright.tune.likeness.once import Line, line_of
from reedwright.tune.likeness.pairing import (
    Pool,
    nearest,
    own_codes,
    pool_of,
)
from reedwright.tune.likeness.sameness import OFFERED, Sameness, compare
from reedwright.tune.likeness.sketches import Sketch, sketch_of
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

SEED = 611
FOLDERS = (
    "airdsAirs", "essenFolksong", "miscFolk", "nottingham-dataset", "oneills1850", "ryansMammoth",
)  # fmt: skip
SONGS = "essenFolksong"
FEWEST = 16  # notes of a tune that settings are made of
SONGS_AMONG = 0.12  # of the songs' tunes, so that they are about a quarter of those asked for
KINDS = ("the", "a", "an", "reel", "jig", "hornpipe", "strathspey", "clog", "march", "air")
NAMES = ("c", "^", "d", "~", "e", "f", "#", "g", "%", "a", "B", "b")  # one sign a pitch class


def tunes_of(folder: str) -> list[Tune]:
    import music21

    corpus = Path(music21.__file__).parent / "corpus" / folder
    read = [tune for file in sorted(corpus.glob("*.abc")) for tune in read_tunes(file)]
    return [tune for tune in read if isinstance(tune, Tune)]


def pool_from(sketches: list[Sketch]) -> Pool:
    codes = [own_codes(each.grams) for each in sketches]
    return pool_of(np.concatenate(codes), np.array([len(each) for each in codes]))


def backwards(line: Line) -> Line:
    begins = line.end - line.onset - line.length
    return Line(line.midi[::-1], begins[::-1], line.length[::-1], line.bar[::-1])


def recall(
    tunes: list[Tune], songs: list[bool], sketches: list[Sketch], pool: Pool, count: int, seed: int
) -> None:
    random = np.random.default_rng(seed)
    asked = [
        int(k)
        for k in random.permutation(len(tunes))
        if (not songs[k] or random.random() < SONGS_AMONG)
        and sum(map(len, strips(tunes[k]))) >= FEWEST
    ][:count]
    print("\n| setting | asked for | among those compared | offered | alike by the score, median |")
    print("| --- " * 5 + "|")
    for name, making in MAKINGS.items():
        near = found = 0
        scores = []
        for k in asked:
            sketch = sketch_of(line_of(strips(made(tunes[k], making, random))))
            compared = k in nearest(pool, own_codes(sketch.grams))
            score = compare(sketches[k], sketch).score
            near += compared
            found += compared and score >= OFFERED
            scores.append(score)
        share = f"{near / len(asked):.1%} | {found / len(asked):.1%}"
        print(f"| {name} | {len(asked)} | {share} | {np.median(scores):.2f} |", flush=True)


def offered(sketches: list[Sketch], pool: Pool) -> dict[tuple[int, int], Sameness]:
    found: dict[tuple[int, int], Sameness] = {}
    for k, sketch in enumerate(sketches):
        for other in nearest(pool, own_codes(sketch.grams)):
            pair = (min(k, other), max(k, other))
            if other != k and pair not in found:
                found[pair] = compare(sketches[pair[0]], sketches[pair[1]])
    return {pair: same for pair, same in found.items() if same.score >= OFFERED}


def by_title(
    tunes: list[Tune], songs: list[bool], pairs: dict[tuple[int, int], Sameness]
) -> tuple[int, int]:
    """Dance tunes and airs of one title in two collections: how many pairs, how many offered.

    Such are mostly settings of one tune, made by people; some have nothing but the title in common.
    """
    named: dict[str, list[int]] = {}
    for k, tune in enumerate(tunes):
        if not songs[k]:
            named.setdefault(_folded(tune.title), []).append(k)
    found = [
        (one, other)
        for places in named.values()
        for one in places
        for other in places
        if one < other and Path(tunes[one].source).parent != Path(tunes[other].source).parent
    ]
    return len(found), sum(pair in pairs for pair in found)


def _folded(title: str) -> str:
    """Letters alone, without kind of tune, article and plural."""
    text = title.lower().split(" -- ")[0].split(" - ")[0].replace("'s", "")
    words = [word for word in re.findall("[a-z]+", text) if word not in KINDS]
    return " ".join(sorted(word.rstrip("s") for word in words))


def chance(sketches: list[Sketch], pool: Pool, songs: list[bool]) -> Counter[bool]:
    """Offers of tunes played backwards, by whether a song takes part. (One of two backwards is the
    same as the other backwards: each pair counts once.)"""
    found: set[tuple[int, int]] = set()
    for k, sketch in enumerate(sketches):
        if not len(sketch.line.midi):
            continue
        turned = sketch_of(backwards(sketch.line))
        for other in nearest(pool, own_codes(turned.grams)):
            if other != k and compare(turned, sketches[other]).score >= OFFERED:
                found.add((min(k, other), max(k, other)))
    return Counter(songs[one] or songs[other] for one, other in found)


def notes_of(sketch: Sketch, doublings: int, semitones: int, quarters: int) -> str:
    """One sign a slot: the note's pitch class, `-` where it goes on. Begins a slot early."""
    unit = sketch.unit * 2.0**doublings
    times = unit * (np.arange(-1, int(np.ceil(sketch.line.end / unit)) + 1) + 0.2 + quarters / 4)
    place = np.maximum(np.searchsorted(sketch.line.onset, times, side="right") - 1, 0)
    midi = sketch.line.midi[place] - semitones
    return "".join(
        NAMES[midi[k] % 12] if place[k] != place[k - 1] else "-" for k in range(1, len(place))
    )


def printed(
    ours: Sketch, theirs: Sketch, same: Sameness, width: int = 72, lines: int = 2
) -> Iterator[str]:
    mine = notes_of(ours, 0, 0, 0)
    for stretch in sorted(same.stretches)[:3]:
        quarters, slots = stretch.lag % 4, stretch.lag // 4
        yours = notes_of(theirs, same.doublings, same.semitones, quarters)
        for at in range(stretch.first, min(stretch.last, stretch.first + lines * width), width):
            end = min(stretch.last, at + width)
            yield f"    {mine[at:end]}"
            yield f"    {yours[at + slots : end + slots]}"
        yield ""


def sample(
    tunes: list[Tune],
    songs: list[bool],
    sketches: list[Sketch],
    pairs: dict[tuple[int, int], Sameness],
    count: int,
    seed: int,
) -> None:
    """Pairs that are not the same note by note: those would only flatter the sample. Of these the
    half that was not looked at while the rules were made: the places of the two add up to odd."""
    random = np.random.default_rng(seed)
    by_kind: dict[bool, list[tuple[tuple[int, int], Differing]]] = {False: [], True: []}
    for pair, same in pairs.items():
        what = differing(sketches[pair[0]], sketches[pair[1]], same)
        same_notes = differing_words(what._replace(semitones=0, doublings=0)) == "the same notes"
        if not same_notes and sum(pair) % 2:
            by_kind[songs[pair[0]] or songs[pair[1]]].append((pair, what))
    for kind, among in by_kind.items():
        print(f"\n{'with songs' if kind else 'dance tunes and airs'}: {len(among)} pairs")
        for number, k in enumerate(random.permutation(len(among))[:count], start=1):
            (one, other), what = among[k]
            print(f"\n{number}. {_named(tunes[one])}  |  {_named(tunes[other])}")
            print(f"    {pairs[one, other].score:.2f}: {differing_words(what)}")
            print("\n".join(printed(sketches[one], sketches[other], pairs[one, other])))


def _named(tune: Tune) -> str:
    where = f"{Path(tune.source).name} X:{tune.number}"
    return f"{where} {tune.title} ({tune.key.name}, {tune.meter.name})"


def main() -> int:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--tunes", type=int, default=500)
    options.add_argument("--seed", type=int, default=SEED)
    options.add_argument("--sample", type=int, default=0)
    chosen = options.parse_args()
    tunes: list[Tune] = []
    songs: list[bool] = []
    for folder in FOLDERS:
        read = tunes_of(folder)
        tunes += read
        songs += [folder == SONGS] * len(read)
    melodies = [strips(tune) for tune in tunes]
    start = time.process_time()
    sketches = [sketch_of(line_of(melody)) for melody in melodies]
    sketched = time.process_time() - start
    pool = pool_from(sketches)
    print(f"{len(tunes)} tunes, {sum(songs)} of them songs; sketches of them {sketched:.1f} s")
    recall(tunes, songs, sketches, pool, chosen.tunes, chosen.seed)
    start = time.process_time()
    pairs = offered(sketches, pool)
    spent = time.process_time() - start
    counts = Counter(songs[one] or songs[other] for one, other in pairs)
    by_chance = chance(sketches, pool, songs)
    titled, known = by_title(tunes, songs, pairs)
    print(f"\nall with all: {spent:.0f} s, {1000 * spent / len(tunes):.2f} ms a tune\n")
    print("| pairs | offered | of tunes played backwards |\n| --- | --- | --- |")
    for kind, name in ((False, "dance tunes and airs"), (True, "with songs")):
        print(f"| {name} | {counts[kind]} | {by_chance[kind]} |")
    print(f"\nof one title in two collections: {titled} pairs, {known} of them offered")
    if chosen.sample:
        sample(tunes, songs, sketches, pairs, chosen.sample, chosen.seed)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
