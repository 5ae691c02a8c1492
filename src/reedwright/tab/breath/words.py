"""The breath account in words: remarks for the student, and a report of all of it as data.

Public: `breath_remarks`, `breath_report`, `speed_words`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import asdict
from typing import Any

from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.account import BreathAccount, Passing
from reedwright.tab.breath.model import BreathMark, BreathReason
from reedwright.tab.breath.plan import (
    PRACTICE_SPEEDS,
    BreathPlan,
    PracticeBreaths,
    practice_breaths,
)
from reedwright.tab.ornaments.model import Origin
from reedwright.tab.remark import Remark
from reedwright.tab.words import bars_text, number_word, short_words

_NONE: frozenset[str] = frozenset()
_MOST_NAMED = 4  # places named in one remark
_WORTH_SAYING = 0.5  # of comfortable: the level at the end of the tune that a remark speaks of
_LITTLE = 0.05  # litres that a breath moves, below which it is for the phrase and not the air

_WHERE = {
    BreathReason.PART_END: "where the part ends",
    BreathReason.PHRASE_END: "where the phrase ends",
    BreathReason.LONG_NOTE: "at the end of the long note",
    BreathReason.BETWEEN: "quickly, between two notes",
    BreathReason.DROPPED_NOTE: "by leaving the note out",
    BreathReason.TEACHER: "",
}


def speed_words(speed: float) -> str:
    """`at full speed`, `at 55 per cent of the speed`."""
    return "at full speed" if speed == 1.0 else f"at {round(100 * speed)} per cent of the speed"


def breath_remarks(
    arrangement: Arrangement,
    speeds: Sequence[float] = PRACTICE_SPEEDS,
    never: Collection[str] = _NONE,
    practice: PracticeBreaths | None = None,
) -> list[Remark]:
    """Where to breathe and how, what changes in slow practice, and how the tune ends.

    `never`: the notes after which the teacher wants no breath. `practice`: the plans, where
    the caller has them.
    """
    plans = practice or practice_breaths(arrangement, speeds, never=never)
    if not plans.plans or not plans.plans[0].account.ends:
        return []
    first = plans.plans[0]
    found = [_main(arrangement, first)]
    found += _trouble(first)
    for k in range(1, len(plans.plans)):
        found += _slow(arrangement, plans, k)
        if not first.trouble:
            found += _slow_trouble(plans.plans[k])
    found += _at_the_end(first)
    return found


def breath_report(
    arrangement: Arrangement,
    speeds: Sequence[float] = PRACTICE_SPEEDS,
    never: Collection[str] = _NONE,
    practice: PracticeBreaths | None = None,
) -> dict[str, Any]:
    """The figures, the plan and account at each speed, and what differs; ready for JSON.

    Litres from the middle, seconds, quarter notes from the start of the tune as played.
    """
    plans = practice or practice_breaths(arrangement, speeds, never=never)
    remarks = breath_remarks(arrangement, practice=plans) if plans.plans else []
    return {
        "lungs": asdict(arrangement.player.lungs),
        "speeds": [
            {
                **_account_data(plan),
                "more": [mark.note_id for mark in plans.more(k)],
                "fewer": [mark.note_id for mark in plans.fewer(k)],
            }
            for k, plan in enumerate(plans.plans)
        ],
        "remarks": [str(remark) for remark in remarks],
    }


def marks_words(arrangement: Arrangement, marks: Sequence[BreathMark]) -> str:
    """`after 6 draw in bar 8, where the part ends; after 5 blow in bar 13`."""
    names = [_mark_words(arrangement, mark) for mark in marks[:_MOST_NAMED]]
    if len(marks) > _MOST_NAMED:
        left = len(marks) - _MOST_NAMED
        names.append(f"and {number_word(left)} more place{'s' if left > 1 else ''}")
    return "; ".join(names)


def _mark_words(arrangement: Arrangement, mark: BreathMark) -> str:
    sounding = arrangement.soundings.get(mark.note_id)
    note = short_words(sounding) if sounding else "the note"
    dropped = mark.reason is BreathReason.DROPPED_NOTE
    words = f"{'in place of' if dropped else 'after'} {note} in {bars_text([mark.bar])}"
    where = _WHERE[mark.reason]
    return f"{words}, {where}" if where and not dropped else words


def _dropped_words(arrangement: Arrangement, marks: Sequence[BreathMark]) -> str:
    """`3 draw in bars 2 and 4; 6 blow in bar 7`."""
    bars: dict[str, list[int]] = {}
    for mark in marks:
        sounding = arrangement.soundings.get(mark.note_id)
        bars.setdefault(short_words(sounding) if sounding else "a note", []).append(mark.bar)
    return "; ".join(f"{note} in {bars_text(numbers)}" for note, numbers in bars.items())


def _main(arrangement: Arrangement, plan: BreathPlan) -> Remark:
    account, lungs = plan.account, plan.account.lungs
    if not plan.marks:
        high, low = account.highest, account.lowest
        if max(high, -low) <= lungs.comfortable_litres:
            text = (
                "Breath: the lungs stay comfortable from start to end. Breathe through the harp "
                "and take no extra breath."
            )
        else:
            side = "full" if high > -low else "empty"
            text = (
                f"Breath: no extra breath is needed, but you will feel rather {side} at times; "
                "play with small breaths and let them pass through the harp."
            )
        return Remark("breath", text)
    outward = {taken.note_id for taken in account.taken if taken.litres < -_LITTLE}
    inward = {taken.note_id for taken in account.taken if taken.litres > _LITTLE}
    texts = []
    dropped = [m for m in plan.marks if m.reason is BreathReason.DROPPED_NOTE]
    whole = [m for m in plan.marks if m not in dropped]
    out_only = [m for m in whole if m.note_id in outward and m.note_id not in inward]
    in_only = [m for m in whole if m.note_id in inward and m.note_id not in outward]
    both = [m for m in whole if m.note_id in inward and m.note_id in outward]
    idle = [m for m in whole if m.note_id not in inward and m.note_id not in outward]
    if in_only:
        texts.append(
            f"Snatch a breath {marks_words(arrangement, in_only)}"
            + _because(in_only, "the blow notes before it empty you")
        )
    if out_only:
        texts.append(
            f"Let air out through the nose {marks_words(arrangement, out_only)}"
            + _because(out_only, "the draw notes before it fill you")
        )
    if both:
        texts.append(f"Breathe as you need to {marks_words(arrangement, both)}.")
    if idle:
        texts.append(f"Lift off for the phrase {marks_words(arrangement, idle)}.")
    if dropped:
        texts.append(f"Leave out {_dropped_words(arrangement, dropped)}, and breathe there.")
    return Remark("breath", " ".join(texts), _bars(plan.marks))


def _because(marks: Sequence[BreathMark], why: str) -> str:
    """The reason, where all the breaths are ours: others may stand where nothing needs them."""
    ours = all(mark.origin is Origin.SUGGESTED for mark in marks)
    return f": {why}." if ours else "."


def _trouble(plan: BreathPlan) -> list[Remark]:
    if not plan.trouble:
        return []
    texts = []
    for full in (False, True):
        bars = [passing.bar for passing in plan.trouble if passing.full is full]
        if bars:
            how = (
                "you will be too full: let air out through the nose while you play"
                if full
                else "you will be out of air: let a long note end early, or leave one out, rather "
                "than hurry"
            )
            texts.append(f"From {bars_text(bars)} on {how}.")
    return [Remark("breath", " ".join(texts), _passing_bars(plan.trouble))]


def _slow(arrangement: Arrangement, plans: PracticeBreaths, k: int) -> list[Remark]:
    plan = plans.plans[k]
    more, fewer = plans.more(k), plans.fewer(k)
    speed = speed_words(plan.speed)
    if not more and not fewer:
        if not plan.marks:
            return []
        text = f"In slow practice ({speed}) the same breaths will do."
        return [Remark("slow practice", text)]
    texts = []
    if more:
        also = "also breathe" if plans.plans[0].marks else "breathe"
        texts.append(
            f"In slow practice ({speed}) every note takes more air: {also} "
            f"{marks_words(arrangement, more)}."
        )
    if fewer:
        bars = bars_text(mark.bar for mark in fewer)
        breaths = "the breath" if len(fewer) == 1 else "the breaths"
        these = f"{breaths} of {bars}"
        texts.append(
            f"With these, {these} can wait until the tune is up to speed."
            if more
            else f"In slow practice ({speed}) you can do without {these}."
        )
    text = " ".join(texts)
    return [Remark("slow practice", text, _bars((*more, *fewer)))]


def _slow_trouble(plan: BreathPlan) -> list[Remark]:
    if not plan.trouble:
        return []
    speed = speed_words(plan.speed)
    bars = bars_text(passing.bar for passing in plan.trouble)
    text = f"From {bars} on no breath is long enough {speed}: stop there, breathe, and go on."
    return [Remark("slow practice", text, _passing_bars(plan.trouble))]


def _at_the_end(plan: BreathPlan) -> list[Remark]:
    account = plan.account
    if abs(account.last) < _WORTH_SAYING * account.lungs.comfortable_litres:
        return []
    how = (
        "with full lungs: let air out before you begin it again"
        if account.last > 0
        else "with little air left: breathe in before you begin it again"
    )
    return [Remark("breath", f"The tune ends {how}.")]


def _account_data(plan: BreathPlan) -> dict[str, Any]:
    account = plan.account
    return {
        "speed": account.speed,
        "seconds": round(account.seconds, 3),
        "lowest": round(account.lowest, 3),
        "highest": round(account.highest, 3),
        "last": round(account.last, 3),
        "share_outside_comfortable": round(account.outside, 4),
        "without_breaths": {
            "lowest": round(plan.without.lowest, 3),
            "highest": round(plan.without.highest, 3),
            "trouble": [_passing_data(each) for each in plan.without.passings],
        },
        "breaths": [_mark_data(account, mark) for mark in plan.marks],
        "trouble": [_passing_data(each) for each in account.passings],
        "level": [
            [round(m.seconds, 3), round(m.quarters, 4), round(m.litres, 3)] for m in account.moments
        ],
    }


def _mark_data(account: BreathAccount, mark: BreathMark) -> dict[str, Any]:
    return {
        "note": mark.note_id,
        "bar": mark.bar,
        "reason": mark.reason.value,
        "origin": mark.origin.value,
        "taken": [
            {
                "pass": taken.pass_number,
                "seconds": round(taken.seconds, 3),
                "litres": round(taken.litres, 3),
            }
            for taken in account.taken
            if taken.note_id == mark.note_id
        ],
    }


def _passing_data(passing: Passing) -> dict[str, Any]:
    return {
        "note": passing.note_id,
        "bar": passing.bar,
        "pass": passing.pass_number,
        "seconds": round(passing.seconds, 3),
        "too": "full" if passing.full else "empty",
        "litres": round(passing.litres, 3),
        "notes": passing.notes,
    }


def _bars(marks: Sequence[BreathMark]) -> tuple[int, ...]:
    return tuple(sorted({mark.bar for mark in marks}))


def _passing_bars(passings: Sequence[Passing]) -> tuple[int, ...]:
    return tuple(sorted({passing.bar for passing in passings}))
