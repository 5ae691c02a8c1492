"""Two reeds sounded together: which two of one breath.

People sound neighbours, or an octave with the tongue over the holes between, so the holes are at
most five apart, or nearly always.

Public: `name_pair`.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations
from math import exp

from reedwright.harp.model import Reed
from reedwright.workshop.measuring.courses import STRAY
from reedwright.workshop.measuring.model import NamedTone, Tone
from reedwright.workshop.measuring.nearness import (
    STRAY_DENSITY,
    Places,
    cents_between,
    densities,
)

WITHIN_A_MOUTH = 5  # holes apart
TOO_WIDE = 0.02  # weight of a pair that is wider
AS_HEARD_ALONE = 5.0  # cents: how near a reed comes to itself in a pair, which draws on its pitch
WORKED_ON = 0.05  # how often a reed lies elsewhere than when it was heard alone
COULD_BE = 0.1  # a reed at least so likely is named among the others


def name_pair(tone: Tone, among: Places, shift: float, known: Mapping[Reed, float]) -> NamedTone:
    """Name both reeds of a tone with an upper pitch.

    `known`: cents from target of reeds that were heard alone. Where no two reeds of one breath
    are near, reed and upper are None.
    """
    lower, upper = densities([tone.hz, tone.upper_hz], among, shift)
    index = {reed: k for k, reed in enumerate(among.reeds)}
    weights: dict[tuple[Reed, Reed], float] = {}
    pairs = [
        pair
        for one, other in combinations(among.reeds, 2)
        if one.breath is other.breath
        for pair in ((one, other), (other, one))
    ]
    for low, high in pairs:
        weight = float(lower[index[low]] * upper[index[high]])
        if not weight:
            continue
        if abs(high.hole - low.hole) > WITHIN_A_MOUTH:
            weight *= TOO_WIDE
        for reed, hz in ((low, tone.hz), (high, tone.upper_hz)):
            if reed in known:
                off = cents_between(hz, float(among.hz[index[reed]])) - known[reed]
                weight *= WORKED_ON + exp(-0.5 * (off / AS_HEARD_ALONE) ** 2)
        weights[low, high] = weight / len(pairs)
    whole = sum(weights.values()) + STRAY * STRAY_DENSITY**2
    best = max(weights, key=lambda pair: weights[pair], default=None)
    if best is None or weights[best] < STRAY * STRAY_DENSITY**2:
        return NamedTone(tone, None, 0.0, STRAY * STRAY_DENSITY**2 / whole)
    low, high = best
    others = {
        reed
        for pair, weight in weights.items()
        for reed in pair
        if weight >= COULD_BE * whole and reed not in (low, high)
    }
    return NamedTone(
        tone,
        low,
        cents_between(tone.hz, float(among.hz[index[low]])),
        weights[low, high] / whole,
        high,
        cents_between(tone.upper_hz, float(among.hz[index[high]])),
        tuple(sorted(others)),
    )
