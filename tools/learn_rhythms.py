"""Learn where notes fall in a bar from two old collections, for `takes/transcribing`.

    python tools/learn_rhythms.py

Counts over Ryan's Mammoth Collection (1883) and Aird's Airs (1782 on), and for the metres in
three over the Essen collection too, all as music21 ships them. The 1850 collection, on which
transcribing is measured, is left out. Writes `data/rhythms.json`; its shape is told in
`takes/transcribing/rhythms.py`.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from fractions import Fraction
from pathlib import Path

import music21

from reedwright.errors import ReedwrightError
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.tune.unfold import unfold

TICKS = 12  # to a quarter note
COLLECTIONS = ("ryansMammoth", "airdsAirs")
MORE_IN_THREES = "essenFolksong"
METERS = {"2/2": "4/4", "4/4": "4/4", "2/4": "2/4", "3/4": "3/4", "6/8": "6/8", "9/8": "9/8"}
METERS |= {"12/8": "12/8", "3/8": "3/8"}
DATA = Path(__file__).parents[1] / "src/reedwright/takes/transcribing/data/rhythms.json"
Counts = defaultdict[str, Counter[str]]


def collection(name: str) -> list[Tune]:
    folder = Path(music21.__file__).parent / "corpus" / name
    found: list[Tune] = []
    for file in sorted(folder.glob("*.abc")):
        try:
            found += [tune for tune in read_tunes(file) if isinstance(tune, Tune)]
        except ReedwrightError:
            continue
    return [tune for tune in found if len(tune.voices) == 1]


def main() -> None:
    moves: defaultdict[str, Counts] = defaultdict(lambda: defaultdict(Counter))
    degrees: defaultdict[str, dict[str, list[int]]] = defaultdict(dict)
    starts: Counts = defaultdict(Counter)
    ends: Counts = defaultdict(Counter)
    beats: defaultdict[str, Counts] = defaultdict(lambda: defaultdict(Counter))
    tunes = [tune for name in COLLECTIONS for tune in collection(name)]
    tunes += [t for t in collection(MORE_IN_THREES) if t.meter.name in ("3/4", "3/8")]
    for tune in tunes:
        meter = METERS.get(tune.meter.name)
        if meter is None or any(bar.meter != tune.meter for bar in tune.bars):
            continue
        learn(tune, meter, moves, degrees, starts, ends, beats)
    found = {
        meter: {
            "moves": {p: sorted_counts(c) for p, c in sorted_keys(moves[meter])},
            "starts": sorted_counts(starts[meter]),
            "ends": sorted_counts(ends[meter]),
            "degrees": dict(sorted_keys(degrees[meter])),
        }
        for meter in sorted(moves)
    }
    keys: dict[str, dict[str, list[float]]] = {}
    for name in COLLECTIONS:
        for tune in collection(name):
            learn_key(tune, keys)
    whole = {
        "origin": "Counted by tools/learn_rhythms.py over Ryan's Mammoth Collection (1883) and "
        "Aird's Airs (1782 on), and in 3/4 and 3/8 the Essen collection too, as music21 ships "
        "them. Facts about old tunes, free to use.",
        "meters": found,
        "keys": {
            mode: {what: [round(x, 2) for x in row] for what, row in rows.items()}
            for mode, rows in sorted(keys.items())
        },
        "beats": {k: {p: sorted_counts(c) for p, c in sorted_keys(b)} for k, b in beats.items()},
    }
    DATA.write_text(json.dumps(whole, indent=None, separators=(",", ":")).replace("},", "},\n"))


def sorted_counts(counts: Counter[str]) -> dict[str, int]:
    return {key: counts[key] for key in sorted(counts, key=int)}


def sorted_keys(of):  # type: ignore[no-untyped-def]
    return sorted(of.items(), key=lambda item: int(item[0]))


def learn(tune, meter, moves, degrees, starts, ends, beats) -> None:  # type: ignore[no-untyped-def]
    bar = tune.meter.bar_length * TICKS
    compound = tune.meter.compound or meter == "3/8"
    beat = 18 if compound else 12
    try:
        played = [n for n in unfold(tune).notes if not n.continues]
    except ReedwrightError:
        return
    if len(played) < 16:
        return
    places = []
    for note in played:
        in_bar = (note.beat - 1) * tune.meter.beat_length * TICKS
        places.append((note.onset * TICKS, in_bar % bar))
    minor = 12 if tune.key.mode in ("minor", "dorian", "phrygian") else 0
    for (onset, p), (following, q), note in zip(places, places[1:], played, strict=False):
        step = following - onset
        if step <= 0 or (p + step - q) % bar:
            continue  # bars that are not full: what comes next is no place in the metre
        if Fraction(step).denominator > 1 or Fraction(p).denominator > 1:
            continue
        if step <= 2 * bar:
            moves[meter][str(p)][str(step)] += 1
        kind = "compound" if compound else "simple"
        if step <= 8 * beat:
            beats[kind][str(p % beat)][str(step)] += 1
        row = degrees[meter].setdefault(str(p), [0] * 24)
        row[minor + (note.note.pitch.midi - tune.key.tonic_pitch_class) % 12] += 1
    if Fraction(places[0][1]).denominator == 1:
        starts[meter][str(places[0][1])] += 1
    if Fraction(places[-1][1]).denominator == 1:
        ends[meter][str(places[-1][1])] += 1


def learn_key(tune: Tune, keys: dict[str, dict[str, list[float]]]) -> None:
    """By mode and semitones above the tonic: how long each degree sounds (each tune counts for
    12), how often it is a tune's last note, and the first note on a bar line."""
    try:
        played = [n for n in unfold(tune).notes if not n.continues]
    except ReedwrightError:
        return
    if len(played) < 16 or tune.key.mode not in ("major", "minor", "dorian", "mixolydian"):
        return
    rows = keys.setdefault(
        tune.key.mode,
        {"tunes": [0.0], "sounds": [0.0] * 12, "last": [0.0] * 12, "first": [0.0] * 12},
    )
    tonic = tune.key.tonic_pitch_class
    total = float(sum(n.note.length for n in played))
    for note in played:
        degree = (note.note.pitch.midi - tonic) % 12
        rows["sounds"][degree] += 12 * float(note.note.length) / total
    first = next((n for n in played if n.beat == 1), played[0])
    rows["tunes"][0] += 1
    rows["last"][(played[-1].note.pitch.midi - tonic) % 12] += 1
    rows["first"][(first.note.pitch.midi - tonic) % 12] += 1


if __name__ == "__main__":
    main()
