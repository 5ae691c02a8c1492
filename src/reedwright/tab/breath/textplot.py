"""The breath account for a terminal: a small plot of the level over the bars as played.

Public: `breath_text`.
"""

from __future__ import annotations

import textwrap
from bisect import bisect_right
from collections.abc import Collection, Sequence

from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.account import BreathAccount
from reedwright.tab.breath.model import BreathReason
from reedwright.tab.breath.plan import PRACTICE_SPEEDS, BreathPlan, practice_breaths
from reedwright.tab.breath.words import breath_remarks, speed_words
from reedwright.tab.words import counted
from reedwright.tune.form import find_parts
from reedwright.tune.unfold import Performance, unfold

WIDTH = 80
NARROWEST = 40
ROWS_OF_COMFORT = 4  # rows of the plot from the middle to the edge of comfort

_LEVEL, _MIDDLE, _EDGE, _LIMIT, _BREATH, _DROPPED = "•", "─", "┈", "═", ",", "×"
_ASCII = str.maketrans(
    {_LEVEL: "*", _MIDDLE: "-", _EDGE: ".", _LIMIT: "=", _DROPPED: "x", "−": "-"}
)
_MARGIN = 8  # columns for the names of the rows


def breath_text(
    arrangement: Arrangement,
    width: int = WIDTH,
    ascii_only: bool = False,
    speeds: Sequence[float] = PRACTICE_SPEEDS,
    never: Collection[str] = frozenset(),
) -> str:
    """The account at each speed in lines of at most `width` columns, with its remarks."""
    performance = unfold(arrangement.tune, arrangement.voice)
    practice = practice_breaths(arrangement, speeds, never=never, performance=performance)
    columns = max(width, NARROWEST) - _MARGIN
    lines: list[str] = []
    for plan in practice.plans:
        lines += [*_heading(plan, width), *_plot(plan, performance, columns), ""]
    lines += textwrap.wrap(_legend(practice.plans), max(width, NARROWEST))
    for remark in breath_remarks(arrangement, practice=practice):
        lines += textwrap.wrap(str(remark), max(width, NARROWEST), subsequent_indent="  ")
    text = "\n".join(line.rstrip() for line in lines)
    if ascii_only:
        return text.translate(_ASCII).encode("ascii", "replace").decode()
    return text


def _heading(plan: BreathPlan, width: int) -> list[str]:
    account = plan.account
    outside = round(100 * account.outside)
    text = (
        f"Air {speed_words(plan.speed)} ({round(account.seconds)} seconds): "
        f"{_litres(account.lowest)} to {_litres(account.highest)} litres from the middle, "
        f"{counted(len(plan.marks), 'breath mark')}, "
        f"{outside} per cent of the time outside of comfort"
    )
    return textwrap.wrap(text, max(width, NARROWEST))


def _legend(plans: Sequence[BreathPlan]) -> str:
    """The signs that occur, in words."""
    reasons = {mark.reason for plan in plans for mark in plan.marks}
    signs = [f"{_LEVEL} is how full the lungs are", f"{_EDGE} the edge of comfort"]
    comfortable = [plan.account.lungs.comfortable_litres for plan in plans]
    if any(
        max(plan.account.highest, -plan.account.lowest) > edge
        for plan, edge in zip(plans, comfortable, strict=True)
    ):
        signs.append(f"{_LIMIT} where you must breathe")
    if reasons - {BreathReason.DROPPED_NOTE}:
        signs.append(f"{_BREATH} a breath")
    if BreathReason.DROPPED_NOTE in reasons:
        signs.append(f"{_DROPPED} a note left out for a breath")
    return "; ".join(signs) + "."


def _litres(level: float) -> str:
    rounded = round(level, 1) + 0.0  # no minus nought
    return f"{rounded:+.1f}".replace("-", "−") if rounded else "0"


def _plot(plan: BreathPlan, performance: Performance, columns: int) -> list[str]:
    account = plan.account
    if not account.quarters:
        return []
    step = account.lungs.comfortable_litres / ROWS_OF_COMFORT
    levels = _sampled(account, columns)
    rows = [round(level / step) for level in levels]
    limit = round(account.lungs.most_litres / step)
    top = max(*rows, ROWS_OF_COMFORT + 1)
    bottom = min(*rows, -ROWS_OF_COMFORT - 1)
    # The nearest limit is drawn where the level comes near, else it would be empty paper.
    top = max(top, limit) if max(rows) > ROWS_OF_COMFORT else top
    bottom = min(bottom, -limit) if min(rows) < -ROWS_OF_COMFORT else bottom
    lines = [" " * _MARGIN + _breaths(plan, columns)]
    for row in range(top, bottom - 1, -1):
        name, fill = "", " "
        if row == 0:
            name, fill = "middle", _MIDDLE
        elif abs(row) == ROWS_OF_COMFORT:
            name, fill = ("fuller" if row > 0 else "emptier"), _EDGE
        elif abs(row) == limit:
            name, fill = ("full" if row > 0 else "empty"), _LIMIT
        drawn = "".join(_LEVEL if at == row else fill for at in rows)
        lines.append(f"{name:>{_MARGIN - 1}} {drawn}")
    return [*lines, *_below(performance, account.quarters, columns)]


def _sampled(account: BreathAccount, columns: int) -> list[float]:
    """The level in the middle of each column."""
    moments = account.moments
    places = [moment.quarters for moment in moments]
    found = []
    for column in range(columns):
        place = (column + 0.5) / columns * account.quarters
        k = min(bisect_right(places, place), len(moments) - 1)
        one, two = moments[max(k - 1, 0)], moments[k]
        span = two.quarters - one.quarters
        share = (place - one.quarters) / span if span else 1.0
        found.append(one.litres + min(max(share, 0.0), 1.0) * (two.litres - one.litres))
    return found


def _breaths(plan: BreathPlan, columns: int) -> str:
    dropped = {m.note_id for m in plan.marks if m.reason is BreathReason.DROPPED_NOTE}
    row = [" "] * columns
    for taken in plan.account.taken:
        at = min(int(taken.quarters / plan.account.quarters * columns), columns - 1)
        row[at] = _DROPPED if taken.note_id in dropped else _BREATH
    return "".join(row)


def _below(performance: Performance, quarters: float, columns: int) -> list[str]:
    """Bar numbers and part letters where the parts begin, and numbers between as there is room."""
    numbers, letters = [" "] * columns, [" "] * columns
    starts: list[tuple[float, str, int]] = [
        (part.onset, part.letter, part.bar) for part in find_parts(performance)
    ]
    for onset, letter, bar in starts:
        at = min(int(onset / quarters * columns), columns - 1)
        _put(letters, at, letter)
        _put(numbers, at, str(bar))
    every = 4
    for played in performance.bars:
        if played.bar.number > 1 and played.bar.number % every == 1:
            at = min(int(float(played.onset) / quarters * columns), columns - 1)
            if all(c == " " for c in numbers[max(at - 2, 0) : at + 4]):
                _put(numbers, at, str(played.bar.number))
    return [
        f"{'bar':>{_MARGIN - 1}} {''.join(numbers)}",
        f"{'part':>{_MARGIN - 1}} {''.join(letters)}",
    ]


def _put(row: list[str], at: int, text: str) -> None:
    at = max(min(at, len(row) - len(text)), 0)
    row[at : at + len(text)] = text
