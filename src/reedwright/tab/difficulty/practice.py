"""A practice plan: which bars to loop, at what speeds, how often.

Hard bars (`difficulty.hardest`) that are neighbours as the tune is played make one passage. It
starts at the speed at which it is as easy as an easy tune, and goes up in even steps to the
full tempo. The rules and their figures are judgement, no source (docs/difficulty.md).

Public: `PracticePlan`, `Passage`, `Step`, `practice_plan`, `plan_report`, `plan_text`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import NamedTuple

from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.hardest import BarWork, bar_works
from reedwright.tab.difficulty.moments import Account, account_of, retimed
from reedwright.tab.difficulty.scale import grade_of
from reedwright.tab.effort import SCALE
from reedwright.tab.remark import Remark, bar_numbers
from reedwright.tab.words import bars_text, listed, number_word
from reedwright.tune.model import Bar
from reedwright.tune.unfold import PlayedBar, unfold

# A bar is worth a loop when its work is so many times the tune's and it is no easy bar anyway.
STANDS_OUT = 1.15
EASY_GRADE = 3.0
"""A passage begins at the speed at which it is no harder than a tune of this grade."""
MOST_PASSAGES = 3
LONGEST_PASSAGE = 4  # bars
SLOWEST, FASTEST_START = 50, 85  # percent of full tempo where a passage may begin
SPEED_STEP = 5  # percent; speeds are multiples of it
LARGEST_STEP = 20  # percent from one speed to the next
ROUNDS = 4  # rounds in a row without a slip before it goes on
FULL = 100


class Step(NamedTuple):
    """One speed, in percent of the full tempo; `rounds` to play without a slip; seconds a round.

    `grade` is that of a tune that were all like the passage at this speed.
    """

    percent: int
    rounds: int
    round_seconds: float
    grade: float


@dataclass(frozen=True, slots=True)
class Passage:
    """Bars to loop, by printed number and by index in the voice, first and last included.

    `lead_in` says from where to come to it, `why` what is hard in it. `steps` go up to full
    tempo. `alike` are bars that the loop practises along, being the same.
    """

    first: int
    last: int
    first_index: int
    last_index: int
    lead_in: str
    why: str
    steps: tuple[Step, ...]
    alike: tuple[int, ...] = ()

    @property
    def name(self) -> str:
        """`bars 5 and 6`, `the upbeat and bar 1`."""
        return bars_text(range(self.first, self.last + 1))


@dataclass(frozen=True, slots=True)
class PracticePlan:
    """`passages` in the order in which to take them, hardest first; `whole` the run-throughs."""

    passages: tuple[Passage, ...]
    whole: tuple[Step, ...]
    sentences: tuple[str, ...]


def practice_plan(arrangement: Arrangement, account: Account | None = None) -> PracticePlan:
    """Plan the practice of one arrangement at its tempo.

    An even tune has no passages; then the plan is the whole tune, slower first.
    """
    account = _practised(account or account_of(arrangement))
    slower = _Speeds(arrangement)
    passages = tuple(
        _passage(arrangement, run, slower) for run in _runs(arrangement, account, slower)
    )
    rows = range(len(account.moments))
    bars = unfold(arrangement.plain, arrangement.voice).bars
    whole = _steps(slower, rows, sum(float(each.bar.length) for each in bars), rounds=1)
    return PracticePlan(passages, whole, _sentences(arrangement, passages, whole))


def _practised(account: Account) -> Account:
    """What practice can better: a note that the harp lacks stays missing at every speed."""
    return account.without("missing_note")


class _Speeds:
    """The account of the same tab at other speeds, each worked out once."""

    def __init__(self, arrangement: Arrangement) -> None:
        self.arrangement = arrangement
        self._known: dict[int, Account] = {}

    def at(self, percent: int) -> Account:
        if percent not in self._known:
            slower = retimed(self.arrangement, percent / FULL)
            self._known[percent] = _practised(account_of(slower))
        return self._known[percent]

    def grade(self, percent: int, rows: Sequence[int], quarters: float) -> float:
        """The grade of some moments of the tune, which last so many quarter notes."""
        seconds = self.seconds(percent, quarters)
        if not seconds or not len(rows):
            return 1.0
        return grade_of(int(self.at(percent).units[list(rows)].sum()) / SCALE / seconds)

    def seconds(self, percent: int, quarters: float) -> float:
        tempo = self.arrangement.quarters_per_minute or 100.0
        return quarters * 60.0 / tempo * FULL / percent


class _Run(NamedTuple):
    """Played bars in a row, and the work of each."""

    bars: tuple[PlayedBar, ...]
    rows: tuple[int, ...]
    works: tuple[BarWork, ...]

    @property
    def hardest(self) -> BarWork:
        return max(self.works, key=lambda each: each.work)


def _runs(arrangement: Arrangement, account: Account, slower: _Speeds) -> list[_Run]:
    """Stretches of hard bars that are neighbours on the page and in playing, hardest first."""
    works = {each.number: each for each in bar_works(arrangement, account)}
    mean = sum(each.effort for each in works.values()) / account.seconds if account.seconds else 0.0
    hard: set[int] = set()
    for each in sorted(works.values(), key=lambda work: (-work.work, work.number)):
        stands_out = each.work >= STANDS_OUT * mean and each.grade > EASY_GRADE
        if stands_out and each.number > 0 and hard.isdisjoint(each.alike):
            hard.add(each.number)
    runs: list[list[PlayedBar]] = []
    taken: set[int] = set()
    for played in unfold(arrangement.plain, arrangement.voice).bars:
        bar = played.bar
        if bar.number not in hard or bar.index in taken:
            continue
        before = runs[-1][-1] if runs else None
        together = (
            before is not None
            and before.bar.index + 1 == bar.index
            and before.onset + before.bar.length == played.onset
            and len({each.bar.number for each in runs[-1]} | {bar.number}) <= LONGEST_PASSAGE
        )
        if together:
            runs[-1].append(played)
        else:
            runs.append([played])
        taken.add(bar.index)
    found = []
    for run in runs:
        mine = tuple(works[number] for number in sorted({each.bar.number for each in run}))
        found.append(_Run(tuple(run), _rows(account, run), mine))
    found.sort(key=lambda run: -run.hardest.work)
    return found[:MOST_PASSAGES]


def _rows(account: Account, run: Sequence[PlayedBar]) -> tuple[int, ...]:
    """The moments of one playing of these bars: the first time that each comes."""
    wanted = {each.bar.index for each in run}
    seen: set[str] = set()
    rows = []
    for k, moment in enumerate(account.moments):
        if moment.bar.index in wanted and moment.note.id not in seen:
            seen.add(moment.note.id)
            rows.append(k)
    return tuple(rows)


def _passage(arrangement: Arrangement, run: _Run, slower: _Speeds) -> Passage:
    first, last = run.bars[0].bar, run.bars[-1].bar
    quarters = sum(float(each.bar.length) for each in run.bars)
    return Passage(
        first=first.number,
        last=last.number,
        first_index=first.index,
        last_index=last.index,
        lead_in=_lead_in(arrangement, first),
        why=run.hardest.why,
        steps=_steps(slower, run.rows, quarters, ROUNDS),
        alike=tuple(
            sorted(
                {other for each in run.works for other in each.alike}
                - {each.number for each in run.works}
            )
        ),
    )


def _lead_in(arrangement: Arrangement, first: Bar) -> str:
    """Where to come from: the last note before the passage on the page; nothing at the start."""
    before = [
        (bar.number, note)
        for bar in arrangement.plain.voices[arrangement.voice].bars[: first.index]
        for note in bar.notes
    ]
    if not before:
        return ""
    number, _ = before[-1]
    return f"the last note of {bars_text([number])}"


def _steps(slower: _Speeds, rows: Sequence[int], quarters: float, rounds: int) -> tuple[Step, ...]:
    """Speeds from where it is easy up to full tempo, as evenly as multiples of five allow."""
    start = SLOWEST
    for percent in range(FULL, SLOWEST, -SPEED_STEP):
        if slower.grade(percent, rows, quarters) <= EASY_GRADE:
            start = percent
            break
    start = min(start, FASTEST_START)
    count = ceil((FULL - start) / LARGEST_STEP)
    speeds = [
        start + SPEED_STEP * round((FULL - start) * k / count / SPEED_STEP) for k in range(count)
    ]
    return tuple(
        Step(
            percent,
            rounds,
            slower.seconds(percent, quarters),
            slower.grade(percent, rows, quarters),
        )
        for percent in [*speeds, FULL]
    )


def _sentences(
    arrangement: Arrangement, passages: Sequence[Passage], whole: Sequence[Step]
) -> tuple[str, ...]:
    """The plan as the student reads it."""
    found = []
    for order, passage in enumerate(passages):
        start, *later = passage.steps
        opening = "First loop" if order == 0 else "Then loop" if order == 1 else "Last, loop"
        rounds = number_word(start.rounds)
        like = f", which {bars_text(passage.alike)} repeat" if len(passage.alike) > 1 else ""
        like = f", which {bars_text(passage.alike)} repeats" if len(passage.alike) == 1 else like
        found.append(
            f"{opening} {passage.name}{like}: {passage.why}. Begin at {start.percent} per cent "
            f"of the tempo; play the loop {rounds} times in a row without a slip, "
            f"then go on to {listed([str(step.percent) for step in later])} per cent the same way."
        )
        if passage.lead_in:
            found[-1] += (
                f" When it sits, come to it from {passage.lead_in} and stop on the first note "
                "after it."
            )
    tempo = f"{arrangement.quarters_per_minute:g} quarter notes a minute"
    speeds = listed([str(step.percent) for step in whole])
    if passages:
        found.append(
            f"Then the whole tune, once each at {speeds} per cent of the full tempo ({tempo})."
        )
    elif arrangement.notes_played:
        found.append(
            f"No bar stands out, so play the whole tune, once each at {speeds} per cent of the "
            f"full tempo ({tempo})."
        )
    return tuple(found)


def practice_remarks(plan: PracticePlan) -> list[Remark]:
    """The plan in one sentence, for the page."""
    if not plan.passages:
        return []
    first, *later = [passage.name for passage in plan.passages]
    names = ", then ".join([f"{first} first", *later])
    slowest = min(passage.steps[0].percent for passage in plan.passages)
    bars = [n for each in plan.passages for n in range(each.first, each.last + 1)]
    text = (
        f"To practise: loop {names}. Begin at {slowest} per cent of the tempo and go up in "
        "steps when a loop sits."
    )
    return [Remark("practice", text, bar_numbers(bars))]


def plan_report(plan: PracticePlan) -> dict[str, object]:
    """JSON-ready; the shape is in docs/formats.md."""
    return {
        "passages": [
            {
                "bars": [passage.first, passage.last],
                "name": passage.name,
                "alike": list(passage.alike),
                "why": passage.why,
                "lead_in": passage.lead_in or None,
                "steps": _steps_report(passage.steps),
            }
            for passage in plan.passages
        ],
        "whole_tune": _steps_report(plan.whole),
        "sentences": list(plan.sentences),
    }


def _steps_report(steps: Sequence[Step]) -> list[dict[str, object]]:
    return [
        {
            "speed_percent": step.percent,
            "rounds": step.rounds,
            "round_seconds": round(step.round_seconds, 3),
            "grade": step.grade,
        }
        for step in steps
    ]


def plan_text(plan: PracticePlan, width: int = 80) -> str:
    """The plan for a terminal, numbered and wrapped."""
    lines = []
    for k, text in enumerate(plan.sentences, start=1):
        lines += textwrap.wrap(
            f"{k}. {text}", max(width, 40), initial_indent="  ", subsequent_indent="     "
        )
    return "\n".join(lines)
