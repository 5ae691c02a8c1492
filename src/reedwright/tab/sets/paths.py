"""The cheapest order of a few things, each in one of several forms, exactly.

By dynamic programming over which are placed already (Held and Karp, "A dynamic programming approach
to sequencing problems", Journal of SIAM 10, 1962).

Public: `cheapest_order`, `MOST_PLACED`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

MOST_PLACED = 12
"""Things beyond which the tables grow too large (their size doubles with each)."""


def cheapest_order(
    groups: Sequence[Sequence[int]],
    own: NDArray[np.float64],
    step: NDArray[np.float64],
    first: NDArray[np.bool_] | None = None,
    last: NDArray[np.bool_] | None = None,
    at: NDArray[np.float64] | None = None,
) -> tuple[float, tuple[int, ...]] | None:
    """One node of each group, in the cheapest order: its cost and the nodes.

    `own` is what each node costs by itself, `step[a, b]` what b costs right after a (infinite where
    it may not follow). `first`, `last`: nodes that may begin or end.
    `at[place, node]`: what it costs besides to stand in that place, from 0. Of equal orders the one
    whose last node, then the one before and so on, has the least number. None where there is none.
    """
    count = len(groups)
    if not count or count > MOST_PLACED:
        return (0.0, ()) if not count else None
    nodes = [node for group in groups for node in group]
    group_of = np.array([at for at, group in enumerate(groups) for _ in group])
    mine = own[nodes]
    steps = step[np.ix_(nodes, nodes)]
    full = (1 << count) - 1
    best = np.full((full + 1, len(nodes)), np.inf)
    back = np.full((full + 1, len(nodes)), -1)
    for place, node in enumerate(nodes):
        if first is None or first[node]:
            here = 0.0 if at is None else at[0, node]
            best[1 << int(group_of[place]), place] = mine[place] + here
    for placed in range(1, full + 1):
        row = best[placed]
        if not np.isfinite(row).any():
            continue
        onward = row[:, None] + steps
        before = onward.argmin(axis=0)
        cost = onward[before, np.arange(len(nodes))] + mine
        if at is not None and placed != full:
            cost = cost + at[placed.bit_count(), nodes]
        for place in range(len(nodes)):
            bit = 1 << int(group_of[place])
            if placed & bit or not cost[place] < best[placed | bit, place]:
                continue
            best[placed | bit, place] = cost[place]
            back[placed | bit, place] = before[place]
    ends = best[full].copy()
    if last is not None:
        ends[~last[nodes]] = np.inf
    end = int(ends.argmin())
    if not np.isfinite(ends[end]):
        return None
    order = [end]
    placed = full
    while back[placed, order[-1]] >= 0:
        latest = order[-1]
        order.append(int(back[placed, latest]))
        placed &= ~(1 << int(group_of[latest]))
    return float(ends[end]), tuple(nodes[place] for place in reversed(order))
