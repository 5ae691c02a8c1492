"""Effort counted the slow way: note by note along the tune as played, one tab at a time.

Knows nothing of chains, tables, kinds of move or the solver. Shares with the arranger only
the two functions that say what one note and one move cost. What a grace note costs is worked
out here anew, from the words of docs/ornaments.md.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

import networkx
import numpy as np

from reedwright.harp.model import Harp, Sounding
from reedwright.player.profile import Profile, Weights
from reedwright.tab.effort import SCALE, MoveKind, Ways, encoded, haste, move_parts, note_parts
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
) -> int:
    hurry = haste(weights, np.array([seconds]))
    kind = MoveKind(hurry, np.array([rest]), np.array([slur]))
    parts = move_parts(weights, way_of(one), way_of(two), kind)
    return sum(int(part[0]) for _, part in parts)


def grace_effort(harp: Harp, profile: Profile, main: Sounding, midi: int, last: bool) -> float:
    """Of one grace note before a note that is sounded so, at leisure."""
    w = profile.weights
    costs = [w.grace_lost]
    bent = w.grace_from_bend if main.technique != "natural" else 0.0
    for one in harp.soundings:
        if one.breath != main.breath or one.slide != main.slide:
            continue
        holes = abs(one.hole - main.hole)
        if one.technique == "natural" and 1 <= holes <= 3 and one.midi == midi:
            costs.append(bent + w.grace + w.grace_skip * (holes - 1))
        elif one.technique == "natural" and holes == 1:
            off = abs(one.midi - midi)
            costs.append(bent + w.grace + w.grace_other + w.grace_semitone * off)
        elif holes == 0 and one.bend and one.midi == midi and not bent:
            valved = one.technique == "valved bend"
            if profile.has("valved bend" if valved else f"{one.breath.value} bend"):
                costs.append(w.grace + w.grace_bend * one.bend)
        elif one == main and midi == main.midi and not last and not bent:
            costs.append(w.grace)
    return min(costs)


def ornament_cost(
    harp: Harp, profile: Profile, note: Note, sounding: Sounding | None, seconds: float
) -> int:
    """Of all grace notes of a note, in units."""
    if sounding is None:
        return 0
    growth = 1 + profile.weights.grace_haste * float(haste(profile.weights, np.array([seconds]))[0])
    return sum(
        round(
            grace_effort(harp, profile, sounding, grace.pitch.midi, grace is note.graces[-1])
            * growth
            * SCALE
        )
        for grace in note.graces
    )


class Sounded(NamedTuple):
    """A note sounded once: itself, the last written note tied to it, in quarter notes."""

    note: Note
    last: Note
    onset: Fraction
    end: Fraction


def sounded(tune: Tune) -> list[Sounded]:
    """In order as played."""
    found: list[Sounded] = []
    for played in unfold(tune).notes:
        note, onset = played.note, played.onset
        if played.continues and not note.graces:
            found[-1] = found[-1]._replace(last=note, end=onset + note.length)
        else:
            found.append(Sounded(note, note, onset, onset + note.length))
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
    tune: Tune,
    soundings: Mapping[str, Sounding],
    harp: Harp,
    profile: Profile,
    quarters_per_minute: float,
) -> int:
    """In units of 1/1024 effort."""
    weights = profile.weights
    quarter = 60.0 / quarters_per_minute
    slurs = under_slur(tune)
    everything = sounded(tune)
    total = 0
    for one in everything:
        seconds = float(one.end - one.onset) * quarter
        way = soundings.get(one.note.id)
        total += note_cost(weights, way, seconds)
        total += ornament_cost(harp, profile, one.note, way, seconds)
    for one, two in pairwise(everything):
        total += move_cost(
            weights,
            soundings.get(one.note.id),
            soundings.get(two.note.id),
            float(two.onset - one.onset) * quarter,
            rest=two.onset > one.end,
            slur=(one.last.id, two.note.id) in slurs,
        )
    return total


def tied_groups(tune: Tune) -> list[tuple[str, ...]]:
    """Ids of notes that must share one sounding, in written order."""
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
            if note.id in groups and not any(note.id in group for group in found):
                order = [n.id for b in tune.bars for n in b.notes if n.id in groups[note.id]]
                found.append(tuple(order))
    return found


def choices(tune: Tune, harp: Harp, profile: Profile) -> list[list[Sounding | None]]:
    """For each of `tied_groups` every way this player has, in the documented order."""
    technique = ["natural", "bend", "valved bend", "overblow", "overdraw"]
    midis = {n.id: n.pitch.midi for bar in tune.bars for n in bar.notes}
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


def graph_of_tabs(
    tune: Tune, harp: Harp, player: Profile, ways: Sequence[Sequence[Sounding | None]]
) -> networkx.DiGraph:
    """A tune without repeats as a graph whose paths from start to end are its tabs."""
    weights, quarter = player.weights, 60.0 / tempo_of(tune)
    slurs = under_slur(tune)
    of_id = {
        id_: mine for group, mine in zip(tied_groups(tune), ways, strict=True) for id_ in group
    }
    heard = sounded(tune)
    graph = networkx.DiGraph()

    def own(one: Sounded, way: Sounding | None) -> int:
        seconds = float(one.end - one.onset) * quarter
        return note_cost(weights, way, seconds) + ornament_cost(
            harp, player, one.note, way, seconds
        )

    for i, one in enumerate(heard):
        for a in of_id[one.note.id]:
            if i == 0:
                graph.add_edge("start", (0, a), weight=own(one, a))
            if i == len(heard) - 1:
                graph.add_edge((i, a), "end", weight=0)
                continue
            two = heard[i + 1]
            for b in of_id[two.note.id]:
                cost = move_cost(
                    weights,
                    a,
                    b,
                    float(two.onset - one.onset) * quarter,
                    rest=two.onset > one.end,
                    slur=(one.last.id, two.note.id) in slurs,
                )
                graph.add_edge((i, a), (i + 1, b), weight=cost + own(two, b))
    return graph


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
