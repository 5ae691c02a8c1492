"""Reeds of one note: which of their tones are of the same reed.

Pitch does not tell unisons apart, but it tells whether two tones are of one reed: a reed sounded
again is within a few cents of itself, another reed of the same note mostly is not. So every way of
dealing the tones to the reeds is weighed by how well each reed agrees with itself; the order
(`courses`) then says which reed is which.

Public: `unison_groups`, `dealings`, `dealing_weight`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations, permutations, product
from math import exp, log

import numpy as np

from reedwright.workshop.measuring.nearness import Places

SAME_NOTE = 35.0  # cents: reeds nearer than this cannot be told by pitch
REED_SPREAD = 20.0  # cents: how far reeds lie from their target
TONE_SCATTER = 2.0  # cents: one reed sounded twice, breath as even as people manage
RETUNED = 0.05  # how often a reed was worked on between two of its tones
LEFT_OUT = 0.3  # weight of a reed of a group that has no tone, against one that has
MOST_DEALINGS = 256


def unison_groups(among: Places) -> tuple[tuple[int, ...], ...]:
    """Indices of reeds that can sound the same note, where they are two or more."""
    where = 1200 * np.log2(among.hz)
    spots = [
        [where[k], where[k] + among.was[k]] if abs(among.was[k]) > 1 else [where[k]]
        for k in range(len(where))
    ]
    group = list(range(len(where)))
    for one, other in combinations(range(len(where)), 2):
        if any(abs(a - b) < SAME_NOTE for a in spots[one] for b in spots[other]):
            old, new = group[other], group[one]
            group = [new if each == old else each for each in group]
    found = (tuple(k for k, each in enumerate(group) if each == name) for name in set(group))
    return tuple(sorted(each for each in found if len(each) > 1))


def dealings(pitches: Sequence[float], reeds: int) -> list[tuple[int, ...]]:
    """Ways of dealing tones to the reeds (0 to n - 1) of a group.

    All there are, while they are few. Of many tones: all to one reed, or parted once or more by
    pitch or in time.
    """
    number = len(pitches)
    if reeds**number <= MOST_DEALINGS:
        return list(product(range(reeds), repeat=number))
    ranks = [int(rank) for rank in np.argsort(np.argsort(pitches, kind="stable"))]
    found: dict[tuple[int, ...], None] = {}
    for parts in range(1, reeds + 1):
        for cuts in combinations(range(1, number), parts - 1):
            for names in permutations(range(reeds), parts):
                for along in (ranks, range(number)):
                    dealt = tuple(names[sum(cut <= rank for cut in cuts)] for rank in along)
                    found[dealt] = None
    return list(found)[: 8 * MOST_DEALINGS]


def dealing_weight(
    dealt: Sequence[int], off: Sequence[float], uncertainty: Sequence[float], reeds: int
) -> float:
    """The logarithm of how much better (or worse) tones dealt so agree than tones at random.

    `off` in cents from the harp's target and shift, `uncertainty` in cents. For each reed: the
    density of its tones together, each a normal scatter about a pitch that is itself normal,
    over the product of their densities one by one.
    """
    total = 0.0
    for reed in range(reeds):
        mine = [k for k, each in enumerate(dealt) if each == reed]
        if not mine:
            total += log(LEFT_OUT) if len(dealt) > 1 else 0.0
            continue
        if len(mine) < 2:
            continue
        values = np.array([off[k] for k in mine])
        noise = np.array([uncertainty[k] ** 2 + TONE_SCATTER**2 for k in mine])
        spread = np.diag(noise) + REED_SPREAD**2
        _, size = np.linalg.slogdet(spread)
        together = -0.5 * float(values @ np.linalg.solve(spread, values) + size)
        apart = -0.5 * float((values**2 / np.diag(spread) + np.log(np.diag(spread))).sum())
        # Never worse than a reed that was worked on in between.
        total += log((1 - RETUNED) * exp(min(together - apart, 50.0)) + RETUNED)
    return total
