"""The written notes as places that a player can be at, and the steps from one to the next.

A `Score` is a graph: each written note and grace note is a place; `edges` lead from a place
to those that may be heard next, with what lies between left out. Repeats, endings and part
order are bars that follow bars (as `unfold` plays them); from the end of a part a player
may also go to the start of any other.

Public: `make_score`, `held_after`, `Score`, `Place`, `Step`, `PartSpan`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.model import BreathReason
from reedwright.takes.following import costs
from reedwright.tune.form import find_parts
from reedwright.tune.model import Bar, Change, Note
from reedwright.tune.unfold import Performance, unfold

_MOST_EMPTY_BARS = 64  # bars of rest that are stepped over in one go


class Place(NamedTuple):
    """A written note or grace note: where it stands in its bar and how long it is (quarters).

    `missed` is what it costs not to hear it.
    """

    id: str
    midi: int
    bar: int
    offset: Fraction
    length: Fraction
    is_grace: bool
    missed: float


class Step(NamedTuple):
    """To the next place: quarter notes, the cost, and the bars that are entered on the way.

    `cut` is by how much the bar left is shorter than written: the last bar of a round, where
    the anacrusis of the next one is taken out of it.
    """

    to: int
    quarters: Fraction
    cost: float
    bars: tuple[int, ...]
    cut: Fraction = Fraction(0)


class PartSpan(NamedTuple):
    """A part as the tune is played once: its letter and its bars in order."""

    letter: str
    bars: tuple[int, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Score:
    """The places of a tune and how one comes from one to the other.

    Edge k leads from `source[k]` to `target[k]`, `quarters[k]` later, at `cost[k]`, along
    `steps[k]` (the last of which reaches the target). Edges are sorted by target. `next` are
    the single steps from each place; `enter` and `leave` cost by place. `bars` are the voice's.
    `held_on[bar]` is how much of its start a note held from before takes.
    """

    places: tuple[Place, ...]
    bars: tuple[Bar, ...]
    lengths: tuple[Fraction, ...]
    held_on: tuple[Fraction, ...]
    performance: Performance
    parts: tuple[PartSpan, ...]
    source: npt.NDArray[np.int32]
    target: npt.NDArray[np.int32]
    quarters: npt.NDArray[np.float32]
    cost: npt.NDArray[np.float32]
    steps: tuple[tuple[Step, ...], ...]
    next: tuple[tuple[Step, ...], ...]
    midi: npt.NDArray[np.float32]
    enter: npt.NDArray[np.float32]
    leave: npt.NDArray[np.float32]

    def in_bar(self, bar: int) -> list[int]:
        """The places of a bar in order."""
        return [k for k, place in enumerate(self.places) if place.bar == bar]


def make_score(arrangement: Arrangement) -> Score:
    """The places and steps of an arrangement's tune. Raises `EndlessTune` (see `unfold`)."""
    performance = unfold(arrangement.tune, arrangement.voice)
    voices = arrangement.tune.voices
    bars = voices[arrangement.voice].bars if arrangement.voice < len(voices) else ()
    return _Maker(arrangement, performance, bars).score()


def held_after(performance: Performance) -> frozenset[tuple[str, str]]:
    """Notes struck on one pass and held on by a tie on another: (the place held from, the note).

    Such a note is a place; where it comes right after that other one nobody need hear it begin.
    """
    struck = _struck(performance)
    found: set[tuple[str, str]] = set()
    before = ""
    for played in performance.notes:
        if played.note.id not in struck:
            continue  # never struck, so no place: held on from the one before
        if played.held and before:
            found.add((before, played.note.id))
        before = played.note.id
    return frozenset(found)


def _struck(performance: Performance) -> set[str]:
    return {played.note.id for played in performance.notes if not played.held}


class _Maker:
    def __init__(
        self, arrangement: Arrangement, performance: Performance, bars: tuple[Bar, ...]
    ) -> None:
        self._arrangement = arrangement
        self._performance = performance
        self._bars = bars
        self._dropped = {
            mark.note_id for mark in arrangement.breaths if mark.reason is BreathReason.DROPPED_NOTE
        }
        self._held = {played.note.id for played in performance.notes} - _struck(performance)
        self._held_after = held_after(performance)
        self._lengths = tuple(_length(bar) for bar in bars)
        self._places: list[Place] = []
        self._held_on: list[Fraction] = []
        self._first: list[int | None] = []  # the first place of each bar
        for bar in bars:
            self._lay_out(bar)
        self._last = [
            max((k for k, p in enumerate(self._places) if p.bar == bar.index), default=None)
            for bar in bars
        ]
        self._parts = _part_spans(performance)
        self._after = self._bars_after()

    def score(self) -> Score:
        steps = [self._steps_from(place) for place in range(len(self._places))]
        edges = self._edges(steps)
        enter, leave = self._enter(), self._leave()
        return Score(
            places=tuple(self._places),
            bars=self._bars,
            lengths=self._lengths,
            held_on=tuple(self._held_on),
            performance=self._performance,
            parts=self._parts,
            source=np.array([edge[0] for edge in edges], dtype=np.int32),
            target=np.array([edge[1][-1].to for edge in edges], dtype=np.int32),
            quarters=np.array([float(edge[2]) for edge in edges], dtype=np.float32),
            cost=np.array([edge[3] for edge in edges], dtype=np.float32),
            steps=tuple(edge[1] for edge in edges),
            next=tuple(map(tuple, steps)),
            midi=np.array([place.midi for place in self._places], dtype=np.float32),
            enter=np.array(enter, dtype=np.float32),
            leave=np.array(leave, dtype=np.float32),
        )

    def _lay_out(self, bar: Bar) -> None:
        offset = Fraction(0)
        held_on = Fraction(0)
        first = len(self._places)
        for event in bar.events:
            if isinstance(event, Change):
                continue
            if isinstance(event, Note):
                if event.id not in self._held:
                    self._add(event, bar.index, offset)
                elif len(self._places) > first:
                    last = self._places[-1]
                    self._places[-1] = last._replace(length=last.length + event.length)
                elif held_on == offset:
                    held_on += event.length
            offset += event.length
        self._held_on.append(held_on)
        self._first.append(first if len(self._places) > first else None)

    def _add(self, note: Note, bar: int, offset: Fraction) -> None:
        soundings = self._arrangement.soundings
        for grace in note.graces:
            sounding = soundings.get(grace.id)
            midi = sounding.midi if sounding else grace.pitch.midi
            self._places.append(
                Place(grace.id, midi, bar, offset, Fraction(0), True, costs.MISSED_GRACE)
            )
        missed = costs.MISSED_DROPPED if note.id in self._dropped else costs.MISSED
        self._places.append(
            Place(note.id, note.pitch.midi, bar, offset, note.length, False, missed)
        )

    def _bars_after(self) -> list[dict[int, float]]:
        """For each bar those that may follow it, with the cost."""
        after: list[dict[int, float]] = [{} for _ in self._bars]
        played = [each.bar.index for each in self._performance.bars]
        for one, two in pairwise(played):
            after[one][two] = 0.0
        if not played:
            return after
        starts = self._part_starts()
        ends = sorted({part.bars[-1] for part in self._parts} | {played[-1]})
        after[played[-1]].setdefault(played[0], costs.OTHER_ROUND)
        for end in ends:
            for start, more in starts.items():
                after[end].setdefault(start, costs.OTHER_PART + more)
        for bar in range(len(self._bars) - 1):
            if not after[bar]:
                after[bar][bar + 1] = costs.OTHER_PART
        return after

    def _part_starts(self) -> dict[int, float]:
        """The bars that a part can begin with, and the cost of beginning there."""
        starts: dict[int, float] = {}
        for part in self._parts:
            starts[part.bars[0]] = 0.0
            if len(part.bars) > 1 and self._is_pickup(part.bars[0]):
                starts.setdefault(part.bars[1], costs.WITHOUT_PICKUP)
        return starts

    def _is_pickup(self, bar: int) -> bool:
        full = self._bars[bar].meter.bar_length
        return full is not None and self._lengths[bar] < full

    def _heads(self, bar: int) -> Iterator[tuple[int, Fraction, float, tuple[int, ...]]]:
        """The first places from a bar on: (place, quarters to it, cost, bars entered)."""
        waiting: list[tuple[int, Fraction, float, tuple[int, ...]]] = [
            (bar, Fraction(0), 0.0, (bar,))
        ]
        seen = {bar}
        while waiting:
            here, quarters, cost, entered = waiting.pop()
            first = self._first[here]
            if first is not None:
                yield first, quarters + self._places[first].offset, cost, entered
                continue
            for then, more in self._after[here].items():
                if then not in seen and len(entered) < _MOST_EMPTY_BARS:
                    seen.add(then)
                    length = quarters + self._lengths[here]
                    waiting.append((then, length, cost + more, (*entered, then)))

    def _steps_from(self, place: int) -> list[Step]:
        here = self._places[place]
        if place != self._last[here.bar]:
            then = self._places[place + 1]
            return [Step(place + 1, then.offset - here.offset, 0.0, ())]
        found: list[Step] = []
        rest = self._lengths[here.bar] - here.offset
        for bar, cost in self._after[here.bar].items():
            for head, quarters, more, entered in self._heads(bar):
                step = Step(head, rest + quarters, cost + more, entered)
                found.append(step)
                cut = self._lengths[bar]
                overfull = not self._is_pickup(here.bar) and self._is_pickup(bar)
                if overfull and cost and cut < rest:
                    found.append(step._replace(quarters=step.quarters - cut, cut=cut))
        return found

    def _edges(
        self, steps: list[list[Step]]
    ) -> list[tuple[int, tuple[Step, ...], Fraction, float]]:
        """(source, steps, quarters, cost) of each edge, by target."""
        edges: list[tuple[int, tuple[Step, ...], Fraction, float]] = []
        for source, place in enumerate(self._places):
            best: dict[tuple[int, Fraction], tuple[float, tuple[Step, ...]]] = {}
            waiting: list[tuple[int, Fraction, float, tuple[Step, ...], int, int]] = [
                (source, Fraction(0), 0.0, (), place.midi, 0)
            ]
            while waiting:
                here, quarters, cost, way, midi, left_out = waiting.pop()
                for step in steps[here]:
                    length, total = quarters + step.quarters, cost + step.cost
                    key = (step.to, length)
                    known = best.get(key)
                    if known is not None and known[0] <= total:
                        continue
                    best[key] = (total, (*way, step))
                    then = self._places[step.to]
                    held = (self._places[here].id, then.id) in self._held_after
                    count = left_out + (not then.is_grace)
                    if count > costs.MOST_MISSED:
                        continue
                    again = then.midi == midi and not then.is_grace
                    missed = min(then.missed, costs.MISSED_AGAIN) if again else then.missed
                    missed = costs.MISSED_HELD if held else missed
                    pitch = midi if then.is_grace else then.midi
                    waiting.append((step.to, length, total + missed, (*way, step), pitch, count))
            edges += [(source, way, key[1], cost) for key, (cost, way) in best.items()]
        edges.sort(key=lambda edge: edge[1][-1].to)
        return edges

    def _enter(self) -> list[float]:
        """What it costs to begin at each place: later in a bar as if what is before was missed."""
        found = [costs.ENTER] * len(self._places)
        more = costs.BEGIN_WITHOUT_PICKUP
        begins = {
            bar: costs.ENTER_PART + (more if late else 0)
            for bar, late in self._part_starts().items()
        }
        if self._performance.bars:
            begins[self._performance.bars[0].bar.index] = costs.ENTER_TUNE
        for bar in range(len(self._bars)):
            cost = begins.get(bar, costs.ENTER_BAR)
            for head, _, further, _ in self._heads(bar):
                at: float = cost + further
                for place in range(head, len(self._places)):
                    if self._places[place].bar != self._places[head].bar or at > costs.ENTER:
                        break
                    found[place] = min(found[place], at)
                    at += self._places[place].missed
        return found

    def _leave(self) -> list[float]:
        found = [costs.LEAVE] * len(self._places)
        ends = {part.bars[-1] for part in self._parts}
        for bar in ends:
            last = self._last[bar]
            at = costs.LEAVE_PART
            while last is not None and last >= 0 and at <= costs.LEAVE:
                if self._places[last].bar != bar:
                    break
                found[last] = min(found[last], at)
                at += self._places[last].missed
                last -= 1
        return found


def _length(bar: Bar) -> Fraction:
    """What is in it, overlays too."""
    layers = [
        sum((e.length for e in layer if not isinstance(e, Change)), Fraction(0))
        for layer in bar.overlays
    ]
    return max([bar.length, *layers])


def _part_spans(performance: Performance) -> tuple[PartSpan, ...]:
    parts = find_parts(performance)
    spans: list[PartSpan] = []
    for k, part in enumerate(parts):
        end = parts[k + 1].onset if k + 1 < len(parts) else float("inf")
        bars = tuple(
            played.bar.index
            for played in performance.bars
            if part.onset - 1e-6 <= float(played.onset) < end - 1e-6
        )
        if bars:
            spans.append(PartSpan(part.letter, bars))
    return tuple(spans)
