"""One reed from all its tones: pitch with an uncertainty, steadiness, attack, level.

Public: `measure_reeds`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import sqrt
from typing import NamedTuple

import numpy as np

from reedwright.harp.model import Reed
from reedwright.workshop.measuring.model import NamedTone, ReedMeasure
from reedwright.workshop.targets.model import Targets

LEAST_UNCERTAINTY = 0.01  # cents; a tone that claims less would outweigh all others
AS_SURE = 0.5  # tones named less surely count only where a reed has no others


class _Pooled(NamedTuple):
    cents: float
    uncertainty: float


def measure_reeds(
    named: Sequence[NamedTone], targets: Targets, at_bench: bool = True
) -> tuple[ReedMeasure, ...]:
    """Every reed that was heard alone, by hole, blow before draw.

    Tones weigh by their uncertainty and by what differs between tones of one reed: the
    moment estimate of DerSimonian and Laird (1986), over all reeds of the recording together.
    The uncertainty is the larger of the internal and the external one (Birge 1932), so that
    tones of one reed that disagree say so.
    """
    tones: dict[Reed, list[NamedTone]] = {}
    for each in named:
        if each.reed is not None and each.upper is None:
            tones.setdefault(each.reed, []).append(each)
    for reed, mine in tones.items():
        sure = [each for each in mine if each.sure >= AS_SURE]
        tones[reed] = sure or mine
    between = _between_tones(list(tones.values()))
    found = []
    for target in targets.reeds:
        mine = tones.get(target.reed, [])
        if not mine:
            continue
        pooled = _pooled(mine, between)
        hz = (target.bench_hz if at_bench else target.hz) * 2 ** (pooled.cents / 1200)
        others = {reed for each in mine for reed in each.others}
        found.append(
            ReedMeasure(
                target.reed,
                len(mine),
                hz,
                pooled.cents,
                pooled.uncertainty,
                float(np.median([each.tone.wander for each in mine])),
                float(np.median([each.tone.attack for each in mine])),
                float(np.mean([each.tone.level for each in mine])),
                others=tuple(sorted(others)),
            )
        )
    by_reed = {each.reed: each for each in found}
    return tuple(_beside(each, by_reed) for each in found)


def _between_tones(groups: Sequence[Sequence[NamedTone]]) -> float:
    """The variance between tones of one reed (cents squared), beyond their own uncertainty.

    The median over the reeds that have two or more, so that one reed that was worked on in
    between does not spoil the others.
    """
    found = []
    for group in groups:
        if len(group) < 2:
            continue
        x = np.array([each.cents for each in group])
        w = 1 / np.array([_own(each) ** 2 for each in group])
        mean = float((w * x).sum() / w.sum())
        excess = float((w * (x - mean) ** 2).sum()) - (len(group) - 1)
        found.append(max(0.0, excess / float(w.sum() - (w**2).sum() / w.sum())))
    return float(np.median(found)) if found else 0.0


def _pooled(group: Sequence[NamedTone], between: float) -> _Pooled:
    x = np.array([each.cents for each in group])
    w = 1 / (np.array([_own(each) ** 2 for each in group]) + between)
    mean = float((w * x).sum() / w.sum())
    inside = sqrt(1 / float(w.sum()))
    if len(group) < 2:
        return _Pooled(mean, inside)
    outside = sqrt(float((w * (x - mean) ** 2).sum()) / ((len(group) - 1) * float(w.sum())))
    return _Pooled(mean, max(inside, outside))


def _own(each: NamedTone) -> float:
    return max(each.tone.uncertainty, LEAST_UNCERTAINTY)


def _beside(measure: ReedMeasure, heard: Mapping[Reed, ReedMeasure]) -> ReedMeasure:
    """The same with level (dB) and attack (a ratio) beside the next holes' in the same breath."""
    hole, breath = measure.reed
    near = [
        heard[reed] for reed in (Reed(hole - 1, breath), Reed(hole + 1, breath)) if reed in heard
    ]
    if not near:
        return measure
    attack = float(np.mean([each.attack for each in near]))
    return replace(
        measure,
        level_beside=measure.level - float(np.mean([each.level for each in near])),
        attack_beside=measure.attack / attack if attack > 0 else None,
    )
