"""The running account of air: how full the lungs are at every moment of the tune as played.

Litres from the comfortable middle, 0 at the start; above 0 the lungs are fuller. A draw note
raises the level by its seconds times its rate, a blow note lowers it (`airline.air_rate`).
A rest leads it back towards the middle at `rest_rate`, and no further. A breath takes
`breath_seconds`, first from a rest that follows and then from the end of its note, of which at
least half is left, and leads towards the middle at `breath_rate`. A note that is dropped for a
breath is silent; the breath takes what it needs of it and the rest of it is rest.

The level is what the tune asks for: nothing stops it at the limit, so that the account tells
how much is wanting. docs/breath.md works two examples by hand.

Public: `breath_account`, `account_of`, `BreathAccount`, `Moment`, `Passing`, `Taken`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

from reedwright.player.lungs import Lungs
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.airline import AirLine, make_airline
from reedwright.tab.breath.model import BreathMark, BreathReason
from reedwright.tune.unfold import Performance

LITTLE = 1e-9  # litres; less than this beyond a limit is rounding


class Moment(NamedTuple):
    """The level at one moment: seconds (as played), quarter notes, litres from the middle."""

    seconds: float
    quarters: float
    litres: float


class Passing(NamedTuple):
    """A stretch in which the lungs are beyond `most_litres`, told by its first note.

    `full`: too full, else too empty. `seconds` and `quarters` say where its first note
    ends; `litres` is the level at its worst, `notes` how many it holds.
    """

    note_id: str
    bar: int
    pass_number: int
    seconds: float
    quarters: float
    full: bool
    litres: float
    notes: int


class Taken(NamedTuple):
    """A breath as it is taken once. `litres` come in (above 0) or go out."""

    note_id: str
    bar: int
    pass_number: int
    seconds: float
    quarters: float
    litres: float


@dataclass(frozen=True, slots=True)
class BreathAccount:
    """The account of one tune at one speed.

    `moments` has the level at each start and end of a note, a breath and a rest; between
    them it is straight. `ends` has the level at the end of each sounded note, before any
    breath. `outside` is the share of the time (0 to 1) beyond comfortable.
    """

    moments: tuple[Moment, ...]
    ends: tuple[float, ...]
    passings: tuple[Passing, ...]
    taken: tuple[Taken, ...]
    outside: float
    seconds: float
    quarters: float
    speed: float
    lungs: Lungs

    @property
    def lowest(self) -> float:
        return min((moment.litres for moment in self.moments), default=0.0)

    @property
    def highest(self) -> float:
        return max((moment.litres for moment in self.moments), default=0.0)

    @property
    def last(self) -> float:
        """The level when the tune is over: what a second time through would begin with."""
        return self.moments[-1].litres if self.moments else 0.0

    @property
    def in_reach(self) -> bool:
        """Whether the lungs never run full or empty."""
        return not self.passings


def breath_account(
    arrangement: Arrangement,
    speed: float = 1.0,
    breaths: Iterable[BreathMark] | None = None,
    performance: Performance | None = None,
) -> BreathAccount:
    """The account of an arrangement at its tempo times `speed`.

    `breaths`: the marks that are taken; the arrangement's own without them.
    `performance`: the arrangement's tune played out, where the caller has it already.
    """
    marks = arrangement.breaths if breaths is None else tuple(breaths)
    return account_of(make_airline(arrangement, performance), speed, marks)


def taken_at(line: AirLine, marks: Iterable[BreathMark]) -> dict[int, bool]:
    """The sounds that a mark stands at, by number; true where the note is dropped for it.

    A mark on any note of a tie counts at the end of the sound: a tie is not broken.
    """
    dropped = {mark.note_id: mark.reason is BreathReason.DROPPED_NOTE for mark in marks}
    if not dropped:
        return {}
    found: dict[int, bool] = {}
    for k, sound in enumerate(line.sounds):
        for id_ in sound.ids:
            if id_ in dropped:
                found[k] = dropped[id_]
    return found


def account_of(line: AirLine, speed: float, marks: Iterable[BreathMark]) -> BreathAccount:
    """The account of a tune laid out by `make_airline`."""
    lungs = line.lungs
    taken = taken_at(line, marks)
    moments: list[Moment] = [Moment(0.0, 0.0, 0.0)]
    ends: list[float] = []
    breaths: list[Taken] = []
    level = 0.0
    if line.sounds and line.sounds[0].start:
        moments.append(Moment(line.sounds[0].start / speed, line.sounds[0].onset, level))
    for k, sound in enumerate(line.sounds):
        start, length, gap = sound.start / speed, sound.seconds / speed, sound.gap / speed
        sounding, breath, pause = length, 0.0, gap
        if k in taken:
            sounding, breath, pause = parts_of(length, gap, lungs, taken[k])
        level += sound.rate * sounding
        ends.append(level)
        if sounding:
            moments.append(Moment(start + sounding, sound.place(sounding * speed), level))
        if breath:
            before, level = level, towards_middle(level, lungs.breath_rate * breath)
            begun = moments[-1]
            breaths.append(
                Taken(
                    sound.last_id,
                    sound.bar,
                    sound.pass_number,
                    begun.seconds,
                    begun.quarters,
                    level - before,
                )
            )
            spent = sounding + breath
            moments.append(Moment(start + spent, sound.place(spent * speed), level))
        if pause:
            before, level = level, towards_middle(level, lungs.rest_rate * pause)
            spent = length + gap - pause
            if level == 0.0 and abs(before) < lungs.rest_rate * pause:
                turn = spent + abs(before) / lungs.rest_rate
                moments.append(Moment(start + turn, sound.place(turn * speed), level))
            moments.append(Moment(start + length + gap, sound.place_after, level))
    total = line.seconds / speed
    return BreathAccount(
        tuple(moments),
        tuple(ends),
        _passings(line, ends, speed, lungs.most_litres),
        tuple(breaths),
        _share_outside(moments, lungs.comfortable_litres),
        total,
        line.length,
        speed,
        lungs,
    )


def parts_of(length: float, gap: float, lungs: Lungs, dropped: bool) -> tuple[float, float, float]:
    """Of a note and the silence after it: seconds of sound, of breath, of rest."""
    if dropped:
        breath = min(lungs.breath_seconds, length + gap)
        return 0.0, breath, length + gap - breath
    from_gap = min(lungs.breath_seconds, gap)
    from_note = min(lungs.breath_seconds - from_gap, length / 2)
    return length - from_note, from_note + from_gap, gap - from_gap


def towards_middle(level: float, litres: float) -> float:
    """The level moved towards 0 by so much, but not past it."""
    if level > litres:
        return level - litres
    if level < -litres:
        return level + litres
    return 0.0


def _passings(line: AirLine, ends: list[float], speed: float, limit: float) -> tuple[Passing, ...]:
    found: list[Passing] = []
    before = 0.0
    for sound, level in zip(line.sounds, ends, strict=True):
        if abs(level) > limit + LITTLE:
            if found and abs(before) > limit + LITTLE and found[-1].full == (level > 0):
                worst = max(found[-1].litres, level, key=abs)
                found[-1] = found[-1]._replace(litres=worst, notes=found[-1].notes + 1)
            else:
                found.append(
                    Passing(
                        sound.last_id,
                        sound.bar,
                        sound.pass_number,
                        (sound.start + sound.seconds) / speed,
                        sound.onset + sound.length,
                        level > 0,
                        level,
                        1,
                    )
                )
        before = level
    return tuple(found)


def _share_outside(moments: list[Moment], comfortable: float) -> float:
    """The share of the time in which the level, straight between moments, lies beyond."""
    total = moments[-1].seconds
    if not total:
        return 0.0
    outside = 0.0
    for one, two in pairwise(moments):
        low, high = sorted((one.litres, two.litres))
        if -comfortable <= low and high <= comfortable:
            continue
        if high == low:
            share = 1.0
        else:
            inside = max(min(high, comfortable) - max(low, -comfortable), 0.0)
            share = 1.0 - inside / (high - low)
        outside += share * (two.seconds - one.seconds)
    return outside / total
