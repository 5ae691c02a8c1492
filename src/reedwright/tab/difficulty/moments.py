"""The tune as it is played, note by note, with what each note and the move on from it cost.

The costs are those of the arranger (docs/effort.md), counted once at the tempo and once at
leisure, so that what haste adds can be told apart. They add up, weight by weight, to
`Arrangement.parts_of_effort` exactly, but for `breath_balance`: what the lungs' balance is
worth only chooses between tabs; it is no work, and so no part of a grade.

Public: `Account`, `Moment`, `account_of`, `retimed`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Sounding, Technique
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.effort import (
    SCALE,
    MoveKind,
    Ways,
    encoded,
    haste,
    move_parts,
    note_parts,
    ornament_units,
)
from reedwright.tab.ornaments.model import Origin
from reedwright.tab.ornaments.playable import (
    Demand,
    demands_of,
    ornamenting,
    written_demands,
)
from reedwright.tune.model import Bar, Note, Tune
from reedwright.tune.unfold import Performance, unfold

SECONDS_PER_MINUTE = 60.0


class Moment(NamedTuple):
    """A note sounded once, ties joined, and the move from it to the next.

    `bar` is the written bar that it begins in. `sounding` and `following` (of the next note)
    are None where the harp lacks the note, `following` also at the end. `seconds` is how long it
    lasts, `until_next` the time to the next note's start (None at the end). `demands`: what
    its ornaments ask for.
    """

    note: Note
    bar: Bar
    sounding: Sounding | None
    following: Sounding | None
    seconds: float
    until_next: float | None
    demands: tuple[Demand, ...]

    @property
    def plain(self) -> bool:
        """Whether neither this note nor the next is bent or overblown."""
        return all(
            each is None or each.technique is Technique.NATURAL
            for each in (self.sounding, self.following)
        )

    @property
    def leap(self) -> int:
        """Holes from here to the next note, 0 unless it is a leap (more than one hole)."""
        if self.sounding is None or self.following is None:
            return 0
        distance = abs(self.following.hole - self.sounding.hole)
        return distance if distance > 1 else 0

    @property
    def turns(self) -> bool:
        """Whether the breath turns on the way to the next note."""
        if self.sounding is None or self.following is None:
            return False
        return self.sounding.breath is not self.following.breath


Units = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Account:
    """What everything costs. `units` and `leisure` have shape (moments, names), in 1/1024 effort.

    `names` are weights of the profile. `leisure` is the same tab with all the time in the
    world. `seconds` is the length of the tune as played.
    """

    moments: tuple[Moment, ...]
    names: tuple[str, ...]
    units: Units
    leisure: Units
    seconds: float

    def parts(self, which: Sequence[int] | None = None) -> Mapping[str, float]:
        """Effort by name of weight, of all moments or some."""
        return self._summed(self.units, which)

    def leisure_parts(self, which: Sequence[int] | None = None) -> Mapping[str, float]:
        """The same at leisure."""
        return self._summed(self.leisure, which)

    def without(self, weight: str) -> Account:
        """The same account but for what one weight adds."""
        kept = [k for k, name in enumerate(self.names) if name != weight]
        names = tuple(self.names[k] for k in kept)
        return replace(self, names=names, units=self.units[:, kept], leisure=self.leisure[:, kept])

    def _summed(self, units: Units, which: Sequence[int] | None) -> Mapping[str, float]:
        rows = units if which is None else units[list(which)]
        return {
            name: int(total) / SCALE
            for name, total in zip(self.names, rows.sum(axis=0), strict=True)
            if total
        }


def account_of(arrangement: Arrangement) -> Account:
    """Every note as played, with its costs at the arrangement's tempo."""
    performance = unfold(arrangement.plain, arrangement.voice)
    quarter = SECONDS_PER_MINUTE / (arrangement.quarters_per_minute or 100.0)
    strokes = _strokes(performance)
    moments = _moments(arrangement, strokes, quarter)
    slurs = _slurs(arrangement.plain, arrangement.voice, strokes)
    rests = np.array([stroke.rest for stroke in strokes], bool)
    at_tempo = _costs(arrangement, moments, slurs, rests, hurried=True)
    at_leisure = _costs(arrangement, moments, slurs, rests, hurried=False)
    _add_ornaments(arrangement, moments, at_tempo, at_leisure)
    names = tuple(dict.fromkeys([*at_tempo, *at_leisure]))
    rows = len(moments)
    return Account(
        moments,
        names,
        _table(at_tempo, names, rows),
        _table(at_leisure, names, rows),
        float(performance.length) * quarter,
    )


def retimed(arrangement: Arrangement, speed: float) -> Arrangement:
    """The same tab at `speed` times its tempo, its effort not yet counted."""
    return replace(
        arrangement,
        quarters_per_minute=arrangement.quarters_per_minute * speed,
        effort=0.0,
        parts_of_effort={},
    )


class _Stroke(NamedTuple):
    """A note sounded once. Onset and end in quarter notes; `rest`: silence before the next."""

    note: Note
    last: Note
    bar: Bar
    onset: Fraction
    end: Fraction
    rest: bool = False


def _strokes(performance: Performance) -> list[_Stroke]:
    found: list[_Stroke] = []
    for play in performance.notes:
        end = play.onset + play.note.length
        if play.held and found:
            found[-1] = found[-1]._replace(end=end, last=play.note)
            continue
        if found and play.onset > found[-1].end:
            found[-1] = found[-1]._replace(rest=True)
        found.append(_Stroke(play.note, play.note, play.bar, play.onset, end))
    return found


def _moments(
    arrangement: Arrangement, strokes: Sequence[_Stroke], quarter: float
) -> tuple[Moment, ...]:
    soundings = [arrangement.soundings.get(stroke.note.id) for stroke in strokes]
    asked = _asked(arrangement)
    found = []
    for k, stroke in enumerate(strokes):
        after = k + 1 < len(strokes)
        found.append(
            Moment(
                note=stroke.note,
                bar=stroke.bar,
                sounding=soundings[k],
                following=soundings[k + 1] if after else None,
                seconds=float(stroke.end - stroke.onset) * quarter,
                until_next=float(strokes[k + 1].onset - stroke.onset) * quarter if after else None,
                demands=asked.get(stroke.note.id, ()),
            )
        )
    return tuple(found)


def _slurs(tune: Tune, voice: int, strokes: Sequence[_Stroke]) -> NDArray[np.bool_]:
    """Whether each stroke and the one after it are neighbours on the page under one slur."""
    pairs: set[tuple[str, str]] = set()
    depth, before = 0, ""
    for bar in tune.voices[voice].bars if voice < len(tune.voices) else ():
        for event in bar.events:
            if isinstance(event, Note):
                if before and depth:
                    pairs.add((before, event.id))
                depth = max(0, depth + event.slurs_open - event.slurs_close)
                before = event.id
            elif hasattr(event, "length"):
                before = ""  # a rest
    under = [(one.last.id, two.note.id) in pairs for one, two in pairwise(strokes)]
    return np.array([*under, False], bool)


def _costs(
    arrangement: Arrangement,
    moments: Sequence[Moment],
    slurs: NDArray[np.bool_],
    rests: NDArray[np.bool_],
    hurried: bool,
) -> dict[str, Units]:
    """By name of weight, for each moment; the move counts to the note that it begins from."""
    if not moments:
        return {}
    weights = arrangement.player.weights
    ways = Ways(*np.array([encoded(each.sounding) for each in moments], np.int8).T)
    lasting = np.array([each.seconds for each in moments])
    hurry = haste(weights, lasting) if hurried else np.zeros(len(moments))
    costs = dict(note_parts(weights, ways, hurry))
    if len(moments) == 1:
        return costs
    times = np.array([each.until_next or 0.0 for each in moments[:-1]])
    hurry = haste(weights, times) if hurried else np.zeros(len(times))
    kind = MoveKind(haste=hurry, rest=rests[:-1], slur=slurs[: len(times)])
    one, two = ways.take(slice(None, -1)), ways.take(slice(1, None))
    for name, cost in move_parts(weights, one, two, kind):
        costs[name] = costs.get(name, 0) + np.append(cost, 0)
    return costs


def _table(costs: Mapping[str, Units], names: Iterable[str], rows: int) -> Units:
    if not rows:
        return np.zeros((0, 0), np.int64)
    columns = [np.broadcast_to(costs.get(name, np.int64(0)), rows) for name in names]
    return np.array(columns, np.int64).T.copy()


def _asked(arrangement: Arrangement) -> Mapping[str, tuple[Demand, ...]]:
    """What the ornaments of the arrangement ask for, by id of their note."""
    if not arrangement.ornaments:
        return {}
    written = {note.id: note for note in arrangement.plain.voices[arrangement.voice].notes}
    found: dict[str, tuple[Demand, ...]] = {}
    for each in arrangement.ornaments:
        if each.origin is Origin.WRITTEN and each.note_id in written:
            found[each.note_id] = written_demands(written[each.note_id])
        else:
            found[each.note_id] = demands_of(each.kind)
    return found


def _add_ornaments(
    arrangement: Arrangement,
    moments: Sequence[Moment],
    at_tempo: dict[str, Units],
    at_leisure: dict[str, Units],
) -> None:
    """What the ornaments cost, on the notes that bear them."""
    weights = arrangement.player.weights
    playing = ornamenting(arrangement.harp, arrangement.player)
    nothing = np.zeros(len(moments), np.int64)
    for k, moment in enumerate(moments):
        if moment.sounding is None:
            continue
        for demand in moment.demands:
            found = playing.realised(moment.sounding, demand)
            hurry = haste(weights, moment.seconds)
            for costs, rush in ((at_tempo, hurry), (at_leisure, 0.0)):
                column = costs.setdefault(found.outcome, nothing.copy())
                column[k] += int(ornament_units(weights, found.effort, rush))
