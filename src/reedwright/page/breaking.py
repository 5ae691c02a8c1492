"""Where systems break: evenly filled ones, that end where phrases end.

As paragraphs are set: the choice is the cheapest of all ways over the whole tune, where
a line costs by the square of how much denser or looser it is than the others.

Public: `BarWidth`, `Breaking`, `breakings`, `break_systems`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

PHRASE_BARS = 4  # dance tunes and most songs move in phrases of four bars
FULL = 0.98  # of a system that natural widths may take: they are measured a little small
# Costs (our own judgement). Differences of density below this share are not seen (an upbeat
# makes as much); a system that is an eighth denser than the rest costs 0.1.
UNSEEN, UNEVEN = 0.06, 24.0
# Beyond this difference the eye sees crowded lines beside loose ones.
VERY_UNEVEN, VERY_UNEVEN_COST = 0.18, 8.0
# Of a break, by where it stands.
AT_PHRASE, AT_EVEN_BAR, AT_ODD_BAR = 0.01, 0.06, 0.16
IN_ENDING = 1.2
PART_INSIDE = 0.1  # a part's end inside a system
LONELY = 0.4  # a system of one bar, where there are others
OVERFULL = 1000.0
LOOSEST = 0.36  # mean density below which no more systems are tried


class BarWidth(NamedTuple):
    """A bar's natural width, in any unit; `part_end`: a repeat or double bar follows it.

    `counted`: it has a number of its own (no anacrusis, no second half of a cut bar).
    `bound`: it must stand in one system with the next (a pair of the same bar's halves).
    `sticky`: it should (the next is a second ending, or goes on with the same one).
    `meter`: the part of the width that the time signature takes, which is never stretched.
    """

    width: float
    part_end: bool
    counted: bool = True
    bound: bool = False
    sticky: bool = False
    meter: float = 0.0


class Breaking(NamedTuple):
    """One way to break: `starts` are the bars that begin a system, the first one apart.

    `densities`: of each system, natural widths as a share of the room behind clef and
    signature. `cost`: a mean over the systems, so that ways with more or fewer compare.
    """

    starts: tuple[int, ...]
    densities: tuple[float, ...]
    cost: float

    @property
    def mean(self) -> float:
        return sum(self.densities) / len(self.densities)

    @property
    def spread(self) -> float:
        """The densest system's density by the loosest's: 1 where all are alike."""
        return max(self.densities) / max(min(self.densities), 1e-9)


def breakings(
    bars: Sequence[BarWidth], width: float, lead: float, most: int | None = None
) -> tuple[Breaking, ...]:
    """The best ways to break, from few systems to `most`, for one system `width`.

    `lead`: the width of clef and signature, which each system begins with; natural widths are
    without them.
    """
    total = sum(bar.width for bar in bars)
    room = max(width - lead, 1.0)
    found: dict[tuple[int, ...], Breaking] = {}
    last = len(bars) if most is None else min(most, len(bars))
    # No more systems than bars, however wide: an air without bar lines is one bar.
    fewest = max(1, min(int(total / room), len(bars)))
    for systems in range(fewest, last + 1):
        target = total / systems / room
        if target < LOOSEST and found:
            break
        starts, _ = break_systems(bars, width, lead, min(target, FULL))
        if starts not in found and len(starts) < last:
            found[starts] = _judged(bars, room, starts)
    return tuple(found.values())


def break_systems(
    bars: Sequence[BarWidth], width: float, lead: float, target: float
) -> tuple[tuple[int, ...], float]:
    """The starts of the cheapest way to systems of density `target`, and what it costs.

    A system may only be overfull where it is one bar.
    """
    count, room = len(bars), max(width - lead, 1.0)
    breaks = _break_costs(bars)
    best = [0.0] + [float("inf")] * count
    came = [0] * (count + 1)
    for end in range(1, count + 1):
        natural, inside = 0.0, 0.0
        for start in range(end - 1, -1, -1):
            natural += bars[start].width
            if natural > FULL * room and start < end - 1:
                break
            meter = bars[start].meter
            density = (natural - meter) / (room - meter)
            cost = best[start] + _system_cost(density, target) + inside
            cost += breaks[end]
            if start == end - 1 and count > 1:
                cost += LONELY
            if cost < best[end]:
                best[end], came[end] = cost, start
            if start and bars[start - 1].part_end:
                inside += PART_INSIDE
    starts = []
    end = came[count]
    while end:
        starts.append(end)
        end = came[end]
    return tuple(reversed(starts)), best[count]


def _system_cost(density: float, target: float) -> float:
    off = abs(density / target - 1)
    cost = UNEVEN * max(0.0, off - UNSEEN) ** 2
    cost += VERY_UNEVEN_COST * max(0.0, off - VERY_UNEVEN)
    return cost + OVERFULL * max(0.0, density - 1)


def _judged(bars: Sequence[BarWidth], room: float, starts: tuple[int, ...]) -> Breaking:
    edges = [0, *starts, len(bars)]
    densities = tuple(
        (sum(bar.width for bar in bars[first:last]) - bars[first].meter)
        / (room - bars[first].meter)
        for first, last in pairwise(edges)
    )
    mean = sum(densities) / len(densities)
    breaks = _break_costs(bars)
    cost = sum(_system_cost(density, mean) for density in densities)
    cost += sum(breaks[start] for start in starts)
    inside = set(range(1, len(bars))) - set(starts)
    cost += PART_INSIDE * sum(bars[position - 1].part_end for position in inside)
    cost += LONELY * sum(last - first == 1 for first, last in pairwise(edges) if starts)
    return Breaking(starts, densities, cost / len(densities))


def _break_costs(bars: Sequence[BarWidth]) -> list[float]:
    """What a break before each bar costs; nothing before the first and behind the last."""
    costs = [0.0]
    inside = 0
    for bar in bars:
        inside += bar.counted
        if bar.part_end:
            cost, inside = 0.0, 0
        elif inside % PHRASE_BARS == 0:
            cost = AT_PHRASE if inside else AT_ODD_BAR  # an upbeat does not stand alone
        else:
            cost = AT_EVEN_BAR if inside % 2 == 0 else AT_ODD_BAR
        cost += OVERFULL / 2 if bar.bound else IN_ENDING if bar.sticky else 0.0
        costs.append(cost)
    costs[-1] = 0.0
    return costs
