"""Where systems break: even ones, that end where phrases end."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

PHRASE_BARS = 4  # dance tunes and most songs move in phrases of four bars
# Costs, in units of a system that is loose by its whole width (documented assumptions).
OUT_OF_PHRASE = 0.25
FALLS_SHORT = 1.0
OVERFULL = 1000.0
EACH_SYSTEM = 0.02
IN_ENDING = 0.25
LONELY = 0.7  # a last system of one bar


class BarWidth(NamedTuple):
    """A bar's natural width, in any unit; `part_end`: a repeat or double bar follows it.

    `counted`: it has a number of its own (no anacrusis, no second half of a cut bar).
    `bound`: it must stand in one system with the next (a pair of the same bar's halves).
    `sticky`: it should (the next is a second ending, or goes on with the same one).
    """

    width: float
    part_end: bool
    counted: bool = True
    bound: bool = False
    sticky: bool = False


def break_systems(
    bars: Sequence[BarWidth], width: float, lead: float
) -> tuple[tuple[int, ...], float]:
    """Indices of the bars that begin a system (the first one apart), and what that costs.

    Parameters
    ----------
    width: the width of a system.
    lead: the width of clef and signature, which each system begins with; natural
        widths are without them.

    The choice is the cheapest one over all (dynamic programming): a system costs the
    square of what it lacks in width, and more where it ends inside a phrase.
    """
    count = len(bars)
    phrase_ends = _phrase_ends(bars)
    best = [0.0] + [float("inf")] * count
    came = [0] * (count + 1)
    for end in range(1, count + 1):
        natural = lead
        for start in range(end - 1, -1, -1):
            natural += bars[start].width
            if natural > width and start < end - 1:
                break
            cost = best[start] + _cost(natural / width, end == count or end in phrase_ends)
            if end == count and start == count - 1 and start:
                cost += LONELY
            if bars[end - 1].sticky and end < count:
                cost += IN_ENDING
            if bars[end - 1].bound and end < count:
                cost += OVERFULL / 2
            if cost < best[end]:
                best[end], came[end] = cost, start
    starts = []
    end = count
    while end:
        end = came[end]
        if end:
            starts.append(end)
    return tuple(reversed(starts)), best[count]


def _cost(fill: float, phrase: bool) -> float:
    over = OVERFULL * max(0.0, fill - 1)
    return FALLS_SHORT * (1 - fill) ** 2 + over + (0 if phrase else OUT_OF_PHRASE) + EACH_SYSTEM


def _phrase_ends(bars: Sequence[BarWidth]) -> set[int]:
    """Positions (the index after the bar) where a phrase of four bars or a part ends."""
    ends: set[int] = set()
    inside = 0
    for position, bar in enumerate(bars, start=1):
        if bar.counted:
            inside += 1
        if bar.part_end:
            ends.add(position)
            inside = 0
        elif inside and inside % PHRASE_BARS == 0 and not bar.sticky:
            ends.add(position)
    return ends
