"""A tune as a chain of notes to be tabbed: what is sounded, how often, and what follows what.

The written notes (and grace notes) are the unknowns; the tune as it is played, with repeats,
endings, part orders and jumps, says how often each counts and which pairs meet.

* Notes joined by a tie are one unknown, also where the tie reaches over a repeat.
* A grace note stands in the chain before its note. Where a harp lacks it, the chain
  passes over it: such bridges are listed as moves with `over`.
* Of a chord the highest note counts.

Public: `Chain`, `Unknown`, `Move`, `make_chain`, `written_chain`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import lcm
from typing import NamedTuple

from reedwright.tune.model import Bar, Note, Rest, Tune
from reedwright.tune.unfold import unfold

_NO_TIME = Fraction(0)


class Unknown(NamedTuple):
    """A note to find a hole for. `ids`: itself and what is tied to it, in written order."""

    ids: tuple[str, ...]
    midi: int
    grace: bool


class Move(NamedTuple):
    """From unknown `one` to unknown `two`, by index.

    `time` in quarter notes from the start of the one to the start of the other, None from
    a grace note. `rest`: silence lies between. `slur`: under one slur. `over`: grace
    notes between, all of which a harp must lack for this move to be made.
    """

    one: int
    two: int
    time: float | None
    rest: bool
    slur: bool
    over: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Chain:
    """Unknowns in written order, with how often each is played for how long, and the moves.

    `lengths` counts (unknown, quarter notes; None for a grace note). `moves` counts moves.
    `unplayed` are ids of notes that stand in the tune but are never played.
    """

    unknowns: tuple[Unknown, ...]
    lengths: Counter[tuple[int, float | None]]
    moves: Counter[Move]
    played: int
    unplayed: tuple[str, ...]


class _Sounded(NamedTuple):
    """A note of the tune as played: the written note, its onset in quarter notes.

    `held`: a tie holds it on from the note before, without a grace note that sounds it anew.
    """

    note: Note
    onset: Fraction
    held: bool


def make_chain(tune: Tune, voice: int = 0) -> Chain:
    """The chain of one voice as it is played. Raises `EndlessTune` (see `unfold`)."""
    performance = unfold(tune, voice)
    sounded = [_Sounded(p.note, p.onset, p.held) for p in performance.notes]
    return _chain(tune, voice, sounded)


def written_chain(tune: Tune, voice: int = 0) -> Chain:
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
    return _chain(tune, voice, sounded)


def _chain(tune: Tune, voice: int, sounded: list[_Sounded]) -> Chain:
    bars = tune.voices[voice].bars if voice < len(tune.voices) else ()
    slurred = _slurred(bars)
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
                unplayed += [grace.id for grace in note.graces] + [note.id]
                continue
            for grace in note.graces:
                index[grace.id] = len(unknowns)
                unknowns.append(Unknown((grace.id,), grace.pitch.midi, True))
            if note.id not in index:
                ids = tuple(members[joined(note.id)])
                index.update(dict.fromkeys(ids, len(unknowns)))
                unknowns.append(Unknown(ids, note.pitch.midi, False))
    lengths: Counter[tuple[int, float | None]] = Counter()
    moves: Counter[Move] = Counter()
    played = _walk(sounded, index, slurred, lengths, moves)
    return Chain(tuple(unknowns), lengths, moves, played, tuple(unplayed))


class _Link(NamedTuple):
    """One thing sounded once, in ticks. `end` None: a grace note."""

    unknown: int
    onset: int
    end: int | None
    last: str  # id of the last written note of it


def _walk(
    sounded: list[_Sounded],
    index: dict[str, int],
    slurred: set[tuple[str, str]],
    lengths: Counter[tuple[int, float | None]],
    moves: Counter[Move],
) -> int:
    """Count lengths and moves along the tune as played; how many notes are sounded."""
    # Whole ticks: sums of fractions take too long for the ranking of whole tunebooks.
    ticks = lcm(
        *{each.onset.denominator for each in sounded},
        *{each.note.length.denominator for each in sounded},
    )
    links: list[_Link] = []
    for note, start, held in sounded:
        onset = start.numerator * (ticks // start.denominator)
        end = onset + note.length.numerator * (ticks // note.length.denominator)
        if held and links:
            links[-1] = links[-1]._replace(end=end, last=note.id)
            continue
        for grace in note.graces:
            links.append(_Link(index[grace.id], onset, None, note.id))
        links.append(_Link(index[note.id], onset, end, note.id))
    played = 0
    for i, (unknown, onset, end_or_none, last) in enumerate(links):
        length = None if end_or_none is None else (end_or_none - onset) / ticks
        played += length is not None
        lengths[unknown, length] += 1
        over: tuple[int, ...] = ()
        for at in range(i + 1, len(links)):
            two = links[at]
            if end_or_none is None:
                move = Move(unknown, two.unknown, None, False, False, over)
            else:
                slur = (last, two.last) in slurred
                time = (two.onset - onset) / ticks
                move = Move(unknown, two.unknown, time, two.onset > end_or_none, slur, over)
            moves[move] += 1
            if two.end is not None:
                break
            over += (two.unknown,)
    return played


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
