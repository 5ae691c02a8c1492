"""A tune as a chain of notes to be tabbed: what is sounded, how often, and what follows what.

The written notes are the unknowns; the tune as it is played, with repeats, endings, part
orders and jumps, says how often each counts and which pairs meet.

* Notes joined by a tie are one unknown, also where the tie reaches over a repeat.
* Grace notes and other ornaments are played in the breath of their note, from its hole: they
  are demands on that note and no links of the chain (see `ornaments.playable`).
* Of a chord the highest note counts.

Public: `Chain`, `Unknown`, `Move`, `Ornamented`, `make_chain`, `with_ornaments`,
`written_chain`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from math import lcm
from typing import NamedTuple

from reedwright.tab.ornaments.playable import Demand, written_demands
from reedwright.tune.model import Bar, Note, Rest, Tune
from reedwright.tune.unfold import unfold

_NO_TIME = Fraction(0)


class Unknown(NamedTuple):
    """A note to find a hole for. `ids`: itself and what is tied to it, in written order."""

    ids: tuple[str, ...]
    midi: int


class Move(NamedTuple):
    """From unknown `one` to unknown `two`, by index.

    `time` in quarter notes from the start of the one to the start of the other. `rest`:
    silence lies between. `slur`: under one slur.
    """

    one: int
    two: int
    time: float
    rest: bool
    slur: bool


class Ornamented(NamedTuple):
    """Unknown `note` sounded for `length` quarter notes with an ornament on it."""

    note: int
    length: float
    demand: Demand


DemandsOf = Callable[[Note], tuple[Demand, ...]]


@dataclass(frozen=True, slots=True)
class Chain:
    """Unknowns in written order, with how often each is played for how long, and the moves.

    `lengths` counts (unknown, quarter notes), `moves` and `ornaments` themselves.
    `unplayed` are ids of notes that stand in the tune but are never played.
    """

    unknowns: tuple[Unknown, ...]
    lengths: Counter[tuple[int, float]]
    moves: Counter[Move]
    ornaments: Counter[Ornamented]
    played: int
    unplayed: tuple[str, ...]


class _Sounded(NamedTuple):
    """A note of the tune as played: the written note, its onset in quarter notes.

    `held`: a tie holds it on from the note before, without a grace note that sounds it anew.
    """

    note: Note
    onset: Fraction
    held: bool


def make_chain(tune: Tune, voice: int = 0, demands: DemandsOf = written_demands) -> Chain:
    """The chain of one voice as it is played. Raises `EndlessTune` (see `unfold`).

    `demands`: the ornaments that each note asks for.
    """
    performance = unfold(tune, voice)
    sounded = [_Sounded(p.note, p.onset, p.held) for p in performance.notes]
    return _chain(tune, voice, sounded, demands)


def with_ornaments(chain: Chain, demands: Mapping[str, tuple[Demand, ...]]) -> Chain | None:
    """The chain with further ornaments on some notes (by id), as `make_chain` would have it.

    None where that cannot be told from the chain alone: a note that is tied.
    """
    index = {u.ids[0]: i for i, u in enumerate(chain.unknowns) if len(u.ids) == 1}
    if not demands.keys() <= index.keys():
        return None
    asked = {index[id_]: demand for id_, demand in demands.items()}
    ornaments = chain.ornaments.copy()
    for (i, length), times in chain.lengths.items():
        for demand in asked.get(i, ()):
            ornaments[Ornamented(i, length, demand)] += times
    return replace(chain, ornaments=ornaments)


def written_chain(tune: Tune, voice: int = 0, demands: DemandsOf = written_demands) -> Chain:
    """The chain as if the bars were played once, just as they stand."""
    sounded: list[_Sounded] = []
    onset = _NO_TIME
    tied: int | None = None
    for bar in tune.voices[voice].bars:
        for event in bar.events:
            if isinstance(event, Note):
                held = event.pitch.midi == tied and not event.graces
                sounded.append(_Sounded(event, onset, held))
                tied = event.pitch.midi if event.tied else None
            elif isinstance(event, Rest):
                tied = None
            if isinstance(event, Note | Rest):
                onset += event.length
    return _chain(tune, voice, sounded, demands)


def _chain(tune: Tune, voice: int, sounded: list[_Sounded], demands: DemandsOf) -> Chain:
    bars = tune.voices[voice].bars if voice < len(tune.voices) else ()
    joined = _joined(sounded)
    unknowns: list[Unknown] = []
    index: dict[str, int] = {}
    played_ids = {each.note.id for each in sounded}
    unplayed: list[str] = []
    members: dict[str, list[str]] = {}
    for bar in bars:
        for note in bar.notes:
            if note.id in played_ids:
                members.setdefault(joined(note.id), []).append(note.id)
    for bar in bars:
        for note in bar.notes:
            if note.id not in played_ids:
                unplayed.append(note.id)
            elif note.id not in index:
                ids = tuple(members[joined(note.id)])
                index.update(dict.fromkeys(ids, len(unknowns)))
                unknowns.append(Unknown(ids, note.pitch.midi))
    links, ticks = _links(sounded, index)
    slurred = _slurred(bars)
    lengths: Counter[tuple[int, float]] = Counter()
    ornaments: Counter[Ornamented] = Counter()
    moves: Counter[Move] = Counter()
    for link in links:
        length = (link.end - link.onset) / ticks
        lengths[link.unknown, length] += 1
        for demand in demands(link.note):
            ornaments[Ornamented(link.unknown, length, demand)] += 1
    for one, two in pairwise(links):
        time = (two.onset - one.onset) / ticks
        slur = (one.last, two.note.id) in slurred
        moves[Move(one.unknown, two.unknown, time, two.onset > one.end, slur)] += 1
    return Chain(tuple(unknowns), lengths, moves, ornaments, len(links), tuple(unplayed))


class _Link(NamedTuple):
    """One note sounded once, ties joined, in ticks. `last`: id of the last note tied on."""

    unknown: int
    note: Note
    onset: int
    end: int
    last: str


def _links(sounded: list[_Sounded], index: Mapping[str, int]) -> tuple[list[_Link], int]:
    """The tune as played, and how many ticks make a quarter note."""
    # Whole ticks: sums of fractions take too long for the ranking of whole tunebooks.
    ticks = lcm(
        *{each.onset.denominator for each in sounded},
        *{each.note.length.denominator for each in sounded},
    )
    starts: list[int] = []
    ends: list[int] = []
    notes: list[tuple[Note, Note]] = []
    for note, start, held in sounded:
        onset = start.numerator * (ticks // start.denominator)
        end = onset + note.length.numerator * (ticks // note.length.denominator)
        if held and notes:
            ends[-1], notes[-1] = end, (notes[-1][0], note)
        else:
            starts.append(onset)
            ends.append(end)
            notes.append((note, note))
    links = [
        _Link(index[first.id], first, onset, end, last.id)
        for (first, last), onset, end in zip(notes, starts, ends, strict=True)
    ]
    return links, ticks


def _slurred(bars: Iterable[Bar]) -> set[tuple[str, str]]:
    """Pairs of neighbours on the page that lie under one slur."""
    found: set[tuple[str, str]] = set()
    depth = 0
    before: str | None = None
    for bar in bars:
        for event in bar.events:
            if isinstance(event, Rest):
                before = None
            elif isinstance(event, Note):
                if before is not None and depth > 0:
                    found.add((before, event.id))
                depth = max(depth + event.slurs_open - event.slurs_close, 0)
                before = event.id
    return found


class _Joined:
    """Which notes ties join, over repeats too; asked for a note, names the first of them."""

    def __init__(self) -> None:
        self.first: dict[str, str] = {}

    def __call__(self, id_: str) -> str:
        while (up := self.first.get(id_, id_)) != id_:
            id_ = up
        return id_

    def join(self, one: str, two: str) -> None:
        root, other = self(one), self(two)
        if root != other:
            self.first[other] = root


def _joined(sounded: list[_Sounded]) -> _Joined:
    joined = _Joined()
    for one, two in pairwise(sounded):
        if two.held and one.note.pitch.midi == two.note.pitch.midi:
            joined.join(one.note.id, two.note.id)
    return joined
