"""How near a pitch is to each reed of a harp, and how far the whole harp is off.

Nearness is a density (per cent). A reed lies mostly within some ten cents of its target, seldom
over thirty. Where the harp is known as it was (half converted, or measured before), a reed may lie
there, too, or on the way. The widths stand below, from memory; see docs/reed-measuring.md.

Public: `Places`, `places`, `densities`, `whole_shift`, `cents_between`, `STRAY_DENSITY`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from math import log2, pi, sqrt
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.harp.model import Reed
from reedwright.workshop.targets.model import Targets

Array = npt.NDArray[np.float64]

# Cents: most reeds of a played harp, those that have gone off, one that was measured before.
USUAL, GONE_OFF, AS_MEASURED = 12.0, 30.0, 4.0
SHARE_USUAL = 0.85
FARTHEST = 75.0  # cents off: beyond it a tone is no reed's
# A half converted reed: as it was, as it is to be, and on the way between.
SHARE_AS_WAS, SHARE_ON_THE_WAY = 0.4, 0.2
SHARE_AS_MEASURED = 0.5

MOST_SHIFT = 70  # cents; whole harps off by more are named by another harp
USUAL_SHIFT = 25.0  # cents
# A tone that is no reed's lies anywhere within four octaves.
STRAY_DENSITY = 1 / 4800
NO_REEDS = 0.05 * STRAY_DENSITY  # one tone in twenty, while the shift is sought


class Places(NamedTuple):
    """Where each reed may lie: Hz of its target, and cents from there of where it was.

    `was` is by the same harp as it was (0: nothing else known), `measured` by an earlier
    measurement (nan: none). Shape (reeds,) each, in the order of `reeds`.
    """

    reeds: tuple[Reed, ...]
    hz: Array
    was: Array
    measured: Array


def cents_between(hz: float, target: float) -> float:
    """1200 times the logarithm to base 2 of the ratio (Ellis's cent)."""
    return 1200 * log2(hz / target)


def places(
    targets: Targets,
    at_bench: bool = True,
    now: Targets | None = None,
    before: Mapping[Reed, float] | None = None,
) -> Places:
    """Where the reeds of a harp may lie. `now`: targets of the harp as it is; `before`: Hz."""
    reeds = tuple(target.reed for target in targets.reeds)
    hz = {t.reed: t.bench_hz if at_bench else t.hz for t in targets.reeds}
    was = {t.reed: t.bench_hz if at_bench else t.hz for t in now.reeds} if now else {}
    measured = before or {}
    return Places(
        reeds,
        np.array([hz[reed] for reed in reeds]),
        np.array([cents_between(was.get(reed, hz[reed]), hz[reed]) for reed in reeds]),
        np.array(
            [
                cents_between(measured[reed], hz[reed]) if reed in measured else np.nan
                for reed in reeds
            ]
        ),
    )


def densities(heard: Sequence[float], among: Places, shift: float) -> Array:
    """The density of each pitch (Hz) under each reed of a harp off by `shift` cents as a whole.

    Shape (tones, reeds); per cent.
    """
    off = 1200 * np.log2(np.asarray(heard, dtype=float)[:, None] / among.hz[None, :])
    found = _around(off - shift)
    for k in np.flatnonzero(np.abs(among.was) > 1):
        was = float(among.was[k])
        low, high = min(was, 0.0), max(was, 0.0)
        between = (off[:, k] - shift >= low) & (off[:, k] - shift <= high)
        found[:, k] *= 1 - SHARE_AS_WAS - SHARE_ON_THE_WAY
        found[:, k] += SHARE_AS_WAS * _around(off[:, k] - shift - was)
        found[:, k] += SHARE_ON_THE_WAY / (high - low) * between
    for k in np.flatnonzero(~np.isnan(among.measured)):
        found[:, k] *= 1 - SHARE_AS_MEASURED
        # As it was heard, whatever the harp as a whole.
        found[:, k] += SHARE_AS_MEASURED * _bell(off[:, k] - among.measured[k], AS_MEASURED)
    return found


def whole_shift(heard: Sequence[float], among: Places) -> float:
    """By how many cents the whole harp is off: what makes all the pitches likeliest together."""
    if not heard:
        return 0.0
    tried = np.arange(-MOST_SHIFT, MOST_SHIFT + 1, dtype=float)
    scores = [
        float(np.log(densities(heard, among, shift).mean(axis=1) + NO_REEDS).sum())
        - 0.5 * (shift / USUAL_SHIFT) ** 2
        for shift in tried
    ]
    return float(tried[int(np.argmax(scores))])


def _around(off: Array) -> Array:
    near: Array = SHARE_USUAL * _bell(off, USUAL) + (1 - SHARE_USUAL) * _bell(off, GONE_OFF)
    return np.where(np.abs(off) <= FARTHEST, near, 0.0)


def _bell(off: Array, width: float) -> Array:
    curve: Array = np.exp(-0.5 * (off / width) ** 2) / (width * sqrt(2 * pi))
    return curve
