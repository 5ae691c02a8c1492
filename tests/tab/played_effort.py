"""Effort counted the slow way: note by note along the tune as played, one tab at a time.

Knows nothing of chains, tables, kinds of move or the solver. Shares with the arranger only
the two functions that say what one note and one move cost.
"""

from __future__ import annotations

import random
from collections.abc import Mapping
from fractions import Fraction
from itertools import pairwise

import numpy as np

from reedwright.harp.model import Harp, Sounding
from reedwright.player.profile import Profile, Weights
from reedwright.tab.effort import MoveKind, Ways, encoded, haste, move_parts, note_parts
from reedwright.tab.ways import allowed
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Note, Tune
from reedwright.tune.unfold import unfold


def way_of(sounding: Sounding | None) -> Ways:
    return Ways(*(np.array([number], np.int8) for number in encoded(sounding)))


def note_cost(weights: Weights, sounding: Sounding | None, seconds: float) -> int:
    hurry = haste(weights, np.array([seconds]))
    return sum(int(part[0]) for _, part in note_parts(weights, way_of(sounding), hurry))


def move_cost(
    weights: Weights,
    one: Sounding | None,
    two: Sounding | None,
    seconds: float,
    rest: bool,
    slur: bool,
    grace: bool,
) -> int:
    hurry = haste(weights, np.array([seconds]))
    kind = MoveKind(hurry, np.array([rest]), np.array([slur]), np.array([grace]))
    parts = move_parts(weights, way_of(one), way_of(two), kind)
    return sum(int(part[0]) for _, part in parts)


def sounded(tune: Tune) -> list[list]:
    """In order as played: id, last written note, onset, end (None: a grace note), pitch."""
    found: list[list] = []
    for played in unfold(tune).notes:
        note, onset = played.note, played.onset
        if played.continues and not note.graces:
            found[-1][1], found[-1][3] = note, onset + note.length
            continue
        for grace in note.graces:
            found.append([grace.id, note, onset, None, grace.pitch.midi])
        found.append([note.id, note, onset, onset + note.length, note.pitch.midi])
    return found


def under_slur(tune: Tune) -> set[tuple[str, str]]:
    pairs = set()
    events = [event for bar in tune.bars for event in bar.events]
    depth = 0
    for one, two in pairwise(events):
        if isinstance(one, Note):
            depth = max(0, depth + one.slurs_open - one.slurs_close)
            if depth and isinstance(two, Note):
                pairs.add((one.id, two.id))
    return pairs


def effort_as_played(
    tune: Tune, soundings: Mapping[str, Sounding], weights: Weights, quarters_per_minute: float
) -> int:
    """In units of 1/1024 effort."""
    quarter = 60.0 / quarters_per_minute
    slurs = under_slur(tune)
    everything = sounded(tune)
    total = 0
    for id_, _, onset, end, _ in everything:
        seconds = weights.grace_seconds if end is None else float(end - onset) * quarter
        total += note_cost(weights, soundings.get(id_), seconds)
    # Grace notes that the harp lacks are passed over on the way.
    heard = [each for each in everything if each[3] is not None or each[0] in soundings]
    for one, two in pairwise(heard):
        grace = one[3] is None
        seconds = weights.grace_seconds if grace else float(two[2] - one[2]) * quarter
        total += move_cost(
            weights,
            soundings.get(one[0]),
            soundings.get(two[0]),
            seconds,
            rest=not grace and two[2] > one[3],
            slur=not grace and (one[1].id, two[1].id) in slurs,
            grace=grace,
        )
    return total


def tied_groups(tune: Tune) -> list[tuple[str, ...]]:
    """Ids that must share one sounding, grace notes alone, in written order."""
    groups: dict[str, set[str]] = {}
    before: str | None = None
    for played in unfold(tune).notes:
        mine = groups.setdefault(played.note.id, {played.note.id})
        if played.continues and not played.note.graces and before is not None:
            merged = groups[before] | mine
            for id_ in merged:
                groups[id_] = merged
        before = played.note.id
    found: list[tuple[str, ...]] = []
    for bar in tune.bars:
        for note in bar.notes:
            found += [(grace.id,) for grace in note.graces]
            if note.id in groups and not any(note.id in group for group in found):
                order = [n.id for b in tune.bars for n in b.notes if n.id in groups[note.id]]
                found.append(tuple(order))
    return found


def choices(tune: Tune, harp: Harp, profile: Profile) -> list[list[Sounding | None]]:
    """For each of `tied_groups` every way this player has, in the documented order."""
    technique = ["natural", "bend", "valved bend", "overblow", "overdraw"]
    midis = {n.id: n.pitch.midi for bar in tune.bars for n in bar.notes}
    midis |= {g.id: g.pitch.midi for bar in tune.bars for n in bar.notes for g in n.graces}
    found = []
    for group in tied_groups(tune):
        ways = [way for way in harp.ways.get(midis[group[0]], ()) if allowed(way, profile)]
        ways.sort(
            key=lambda way: (
                technique.index(way.technique),
                way.bend,
                way.slide,
                way.hole,
                way.breath == "draw",
            )
        )
        found.append(list(ways) or [None])
    return found


def random_tune(
    rng: random.Random, bars: int, repeats: bool, low: int = 58, high: int = 84
) -> Tune:
    """An ABC tune of random notes, with grace notes, slurs, ties, rests; repeats if asked."""
    written = []
    pitches = ["C,", "D,", "E,", "F,", "G,", "A,", "B,", *"CDEFGAB", *"cdefgab", "c'", "d'"]
    ready = [p for p in pitches if low <= _abc_midi(p) <= high]
    last = rng.choice(ready)
    for _ in range(bars):
        bar = []
        for _ in range(rng.randint(1, 3)):
            at = ready.index(last)
            note = ready[max(0, min(len(ready) - 1, at + rng.randint(-3, 3)))]
            sign = rng.choice(["", "", "", "^", "_"])
            length = rng.choice(["", "2", "3", "/"])
            text = sign + note + length
            if rng.random() < 0.25:
                text = (
                    "{" + "".join(rng.choice(ready) for _ in range(rng.randint(1, 2))) + "}" + text
                )
            if rng.random() < 0.15:
                text += "-" + sign + note
            elif rng.random() < 0.15:
                text = "(" + text + rng.choice(ready) + ")"
            if rng.random() < 0.1:
                text += "z"
            bar.append(text)
            last = note
        written.append(" ".join(bar))
    if not repeats:
        body = "|".join(written) + "|]"
    else:
        shape = rng.randrange(4)
        third = max(1, bars // 3)
        a, b, c = written[:third], written[third : 2 * third], written[2 * third :]
        one, two, three = ("|".join(each) for each in (a, b or a, c or a))
        tie = "-" if rng.random() < 0.3 else ""
        body = [
            f"|:{one}{tie}|1 {two}:|2 {three}|]",
            f"|:{one}:|:{two}:|{three}|]",
            f"|:{one}:||:{two}|1 {three}:|2 {one}|]",
            f"{one}|:{two}::{three}:|",
        ][shape]
    header = "X:1\nT:Random\nM:none\nL:1/8\nQ:1/4=" + str(rng.choice([80, 120, 200])) + "\nK:C\n"
    (tune,) = read_abc(header + body + "\n")
    assert isinstance(tune, Tune), tune
    return tune


def _abc_midi(name: str) -> int:
    base = {"C": 60, "D": 62, "E": 64, "F": 65, "G": 67, "A": 69, "B": 71}[name[0].upper()]
    return base + (12 if name[0].islower() else 0) + 12 * name.count("'") - 12 * name.count(",")


def tempo_of(tune: Tune) -> float:
    assert tune.tempo is not None and tune.tempo.quarters_per_minute is not None
    return float(Fraction(tune.tempo.quarters_per_minute))
