"""Repeats put right: every repeat's end gets its start, every variant ending its last bar.

Real tunebooks leave signs out where a player knows better. ABC 2.1, section 4.8, has a
repeat end without a start go back "to the beginning of the tune, or to the latest double
bar line or end of a repeated section". Here: the first repeat end of a tune goes back to
its beginning (or to a part label), as abc2midi has it, and later ones to whichever
of the others came last.
"""

from __future__ import annotations

from reedwright.tune.abc.drafts import BarDraft
from reedwright.tune.abc.state import TuneState
from reedwright.tune.model import BarLine

SECTION_LINES = (BarLine.DOUBLE, BarLine.FINAL, BarLine.OPENING)


def repair_repeats(bars: list[BarDraft], state: TuneState) -> None:
    """Give every repeat end a start, and every start an end or none."""
    section = 0  # where a repeat end without a start goes back to
    opened: int | None = None
    repeated = False  # whether any repeat sign has come
    for index, bar in enumerate(bars):
        before = bars[index - 1] if index else None
        starts_part = bar.part is not None
        if starts_part:
            section = index
        if bar.repeat_open:
            if opened is not None:
                _unended(bars, opened, index, state)
            opened = index
            section = index
        elif (
            before is not None
            and before.closing in SECTION_LINES
            and not before.repeat_close
            and not bar.ending
            and opened is None
            and repeated
        ):
            section = index
        repeated = repeated or bar.repeat_open or bool(bar.repeat_close)
        if bar.repeat_close:
            later_ending = index + 1 < len(bars) and bool(bars[index + 1].ending)
            if opened is None:
                if not bars[section].repeat_open:
                    bars[section].repeat_open = True
                    if bars[section].opening is BarLine.SINGLE:
                        bars[section].opening = BarLine.NONE
                    what = "the start of the tune" if section == 0 else "the last section's start"
                    state.repaired(
                        f"a repeat end without a start; read as going back to {what}",
                        bar.place.line,
                        bar.place.column,
                    )
            else:
                times = bars[opened].open_times
                if times > bar.repeat_close:
                    bar.repeat_close = times
            if not later_ending:
                opened = None
                section = index + 1
    if opened is not None:
        _unended(bars, opened, len(bars), state)


def _unended(bars: list[BarDraft], opened: int, stop: int, state: TuneState) -> None:
    """A start repeat that no end answers before `stop`."""
    place = bars[opened].place
    if any(bar.ending for bar in bars[opened:stop]) and any(
        bar.repeat_close for bar in bars[opened:stop]
    ):
        return  # the last variant ending needs no sign
    last = bars[stop - 1]
    if last.repeat_close:
        return
    last.repeat_close = max(2, bars[opened].open_times)
    state.repaired(
        "a start repeat without an end; read as ending where the section ends",
        place.line,
        place.column,
    )


def mark_ending_ends(bars: list[BarDraft]) -> None:
    """Say of each variant ending which bar is its last.

    ABC 2.1, section 4.9: an ending goes to the next `|]`, `||`, repeat sign or ending.
    """
    inside = False
    for index, bar in enumerate(bars):
        if bar.ending:
            inside = True
        if not inside:
            continue
        following = bars[index + 1] if index + 1 < len(bars) else None
        if (
            bar.repeat_close
            or bar.closing in SECTION_LINES
            or following is None
            or following.ending
            or following.repeat_open
            or following.part is not None
        ):
            bar.ending_last = True
            inside = False
