"""Bar numbers, and bars that are too long or too short (bars cut by repeats and upbeats counted).

Rules for numbers: an anacrusis is bar 0 and the first full bar is 1; the two
halves of a bar that a repeat sign or double bar line cuts share a number; variant
endings go on counting, so that the second ending's bars come after the first's.
"""

from __future__ import annotations

from fractions import Fraction

from reedwright.tune.abc.drafts import BarDraft, NoteDraft, length_of
from reedwright.tune.abc.repairs import SECTION_LINES
from reedwright.tune.abc.state import TuneState
from reedwright.tune.model import BarLine, Place, Problem, Severity


def number_bars(bars: list[BarDraft], state: TuneState) -> None:
    """Number the bars and warn of wrong lengths."""
    if not bars:
        return
    lengths = [Fraction(*length_of(bar.events)) for bar in bars]
    fulls = [bar.meter.bar_length for bar in bars]
    number = 0
    short_pair = False  # the bar before is the first half of a cut bar
    for index, bar in enumerate(bars):
        full = fulls[index]
        length = lengths[index]
        if index == 0:
            number = 0 if full is not None and length < full and len(bars) > 1 else 1
        elif (
            not short_pair
            and index > 1
            and full is not None
            and lengths[index - 1] < full
            and lengths[index - 1] + length == full
            and (_cut(bars[index - 1], bar) or bars[index - 1].closing is BarLine.NONE)
        ):
            short_pair = True
            bar.number = number
            continue
        else:
            number += 1
        short_pair = False
        bar.number = number
    _check_lengths(bars, lengths, fulls, state)


def _cut(before: BarDraft, bar: BarDraft) -> bool:
    """Whether a section ends between these two bars."""
    return (
        bool(before.repeat_close)
        or bar.repeat_open
        or before.closing in SECTION_LINES
        or bar.part is not None
        or bool(bar.ending)
    )


def _check_lengths(
    bars: list[BarDraft], lengths: list[Fraction], fulls: list[Fraction | None], state: TuneState
) -> None:
    """Warn of wrong bars. A short bar at a section's edge is right where another balances it."""
    last = len(bars) - 1
    starts: list[int] = []  # short bars that begin a section
    ends: list[int] = []
    wrong: list[int] = []
    for index, bar in enumerate(bars):
        full = fulls[index]
        if full is None or lengths[index] == full:
            continue
        begins = index == 0 or _cut(bars[index - 1], bar)
        finishes = index == last or _cut(bar, bars[index + 1])
        joined = (index < last and bar.closing is BarLine.NONE) or (
            index > 0 and bars[index - 1].closing is BarLine.NONE
        )
        if lengths[index] > full or not (begins or finishes or joined):
            wrong.append(index)
        else:
            if finishes:
                ends.append(index)
            if begins:
                starts.append(index)
    upbeats = {lengths[i] for i in starts}
    remainders = {lengths[i] for i in ends}
    for index in sorted(set(starts) | set(ends)):
        full = fulls[index]
        assert full is not None
        missing = full - lengths[index]
        balanced = (index in ends and missing in upbeats) or (
            index in starts and missing in remainders
        )
        if not balanced and index != 0:
            wrong.append(index)
    for index in sorted(wrong):
        full = fulls[index]
        assert full is not None
        bar = bars[index]
        unit = bar.meter.unit
        message = (
            f"bar {bar.number} is {_in_units(lengths[index], unit)} long "
            f"and should be {_in_units(full, unit)}"
        )
        first = next((e for e in bar.events if isinstance(e, NoteDraft)), None)
        place = bar.place if first is None else Place(first.line, first.column)
        state.problems.append(Problem(Severity.WARNING, message, place, bar.number))


def _in_units(length: Fraction, unit: int) -> str:
    """Quarter notes as a fraction of a whole note over the metre's unit: `7/8`."""
    count = length * unit / 4
    if count.denominator == 1:
        return f"{count.numerator}/{unit}"
    return f"{count.numerator}/{unit * count.denominator}"
