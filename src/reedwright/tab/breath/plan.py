"""Where to breathe: the fewest and most natural breaths that keep the lungs within their limits.

A mark stands on a written note and is taken every time that this note is played. What is
weighed is in `search.py`, what makes a place natural in `places.py`.

Public: `plan_breaths`, `practice_breaths`, `BreathPlan`, `PracticeBreaths`, `PRACTICE_SPEEDS`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.account import BreathAccount, Passing, account_of, taken_at
from reedwright.tab.breath.airline import AirLine, make_airline
from reedwright.tab.breath.model import BreathMark, BreathReason
from reedwright.tab.breath.places import Places, split_base
from reedwright.tab.breath.search import Trials, best_places
from reedwright.tab.ornaments.model import Origin
from reedwright.tune.model import Bar
from reedwright.tune.unfold import Performance

PRACTICE_SPEEDS = (1.0, 0.55)
"""At tempo, and as slow as a tune is learnt (our judgement)."""

_NONE: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class BreathPlan:
    """The breaths of a tune at one speed, in the order of the page, and the account with them.

    `trouble`: where the lungs run full or empty all the same; empty where the plan solves all.
    """

    marks: tuple[BreathMark, ...]
    account: BreathAccount
    without: BreathAccount
    """The account with the teacher's own breaths alone: why there are others."""

    @property
    def trouble(self) -> tuple[Passing, ...]:
        return self.account.passings

    @property
    def speed(self) -> float:
        return self.account.speed

    @property
    def note_ids(self) -> frozenset[str]:
        return frozenset(mark.note_id for mark in self.marks)


@dataclass(frozen=True, slots=True)
class PracticeBreaths:
    """Plans for several speeds, the first the one that the others are held against."""

    plans: tuple[BreathPlan, ...]

    def more(self, k: int) -> tuple[BreathMark, ...]:
        """What plan `k` has and the first has not."""
        first = self.plans[0].note_ids
        return tuple(mark for mark in self.plans[k].marks if mark.note_id not in first)

    def fewer(self, k: int) -> tuple[BreathMark, ...]:
        """What the first plan has and plan `k` has not."""
        return tuple(
            mark for mark in self.plans[0].marks if mark.note_id not in self.plans[k].note_ids
        )


def plan_breaths(
    arrangement: Arrangement,
    always: Collection[str] = _NONE,
    never: Collection[str] = _NONE,
    speed: float = 1.0,
    performance: Performance | None = None,
) -> BreathPlan:
    """Propose breaths for an arrangement at its tempo times `speed`.

    `always` and `never` are ids of written notes: the teacher's breaths, which are kept whatever
    they cost, and notes after which there must be none. The id of a note that a roll
    splits stands for the end of the roll. `performance`: the arrangement's tune played
    out, where the caller has it. Marks that the arrangement has already are not looked at.
    """
    line = make_airline(arrangement, performance)
    return _plan(arrangement, line, always, never, speed, ())


def practice_breaths(
    arrangement: Arrangement,
    speeds: Sequence[float] = PRACTICE_SPEEDS,
    always: Collection[str] = _NONE,
    never: Collection[str] = _NONE,
    performance: Performance | None = None,
) -> PracticeBreaths:
    """Plans for each speed, the first the one that the page is marked for.

    Where the arrangement has breath marks, they are the first plan, and the teacher's and the
    source's among them are kept at every speed. The places of the first are preferred at the
    others, so that what is practised slowly is what is played later.
    """
    line = make_airline(arrangement, performance)
    always = {
        *always,
        *(m.note_id for m in arrangement.breaths if m.origin is not Origin.SUGGESTED),
    }
    plans: list[BreathPlan] = []
    for speed in speeds:
        if not plans and arrangement.breaths:
            teachers = [m for m in arrangement.breaths if m.origin is not Origin.SUGGESTED]
            account = account_of(line, speed, arrangement.breaths)
            without = account_of(line, speed, teachers)
            plans.append(BreathPlan(arrangement.breaths, account, without))
            continue
        preferred = {
            (mark.note_id, mark.reason is BreathReason.DROPPED_NOTE)
            for mark in (plans[0].marks if plans else ())
        }
        plans.append(_plan(arrangement, line, always, never, speed, preferred))
    return PracticeBreaths(tuple(plans))


def _plan(
    arrangement: Arrangement,
    line: AirLine,
    always: Collection[str],
    never: Collection[str],
    speed: float,
    preferred: Collection[tuple[str, bool]],
) -> BreathPlan:
    tune = arrangement.tune
    bars = tune.voices[arrangement.voice].bars if arrangement.voice < len(tune.voices) else ()
    teachers = _teachers(bars, always)
    without = account_of(line, speed, teachers)
    comfortable = without.lungs.comfortable_litres
    if max(map(abs, without.ends), default=0.0) <= comfortable:
        return BreathPlan(teachers, without, without)
    given = taken_at(line, teachers)
    taken_ids = {id_ for k in given for id_ in line.sounds[k].ids}
    whole = _whole_ids(bars)
    barred = {whole.get(id_, id_) for id_ in never} | taken_ids
    trials = Trials(line, speed, given)
    chosen = best_places(trials, Places(line, bars, barred), preferred)
    order = {note.id: n for n, note in enumerate(n for bar in bars for n in bar.notes)}
    marks = (*teachers, *(BreathMark(p.note_id, p.bar, p.reason) for p in chosen))
    marks = tuple(sorted(marks, key=lambda mark: order[mark.note_id]))
    return BreathPlan(marks, account_of(line, speed, marks), without)


def _teachers(bars: tuple[Bar, ...], always: Collection[str]) -> tuple[BreathMark, ...]:
    """The teacher's breaths on the page; ids that are not there are passed over."""
    if not always:
        return ()
    whole = _whole_ids(bars)
    asked = {whole.get(id_, id_) for id_ in always}
    return tuple(
        BreathMark(note.id, bar.number, BreathReason.TEACHER, Origin.TEACHER)
        for bar in bars
        for note in bar.notes
        if note.id in asked
    )


def _whole_ids(bars: tuple[Bar, ...]) -> dict[str, str]:
    """For notes that a roll splits, the last of the split notes."""
    notes = {note.id: note for bar in bars for note in bar.notes}
    found: dict[str, str] = {}
    for id_ in notes:
        base = split_base(id_, notes)
        if base != id_:
            found[base] = id_
    return found
