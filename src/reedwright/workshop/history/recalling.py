"""A kept measurement as one that was just made, to be set beside other targets.

Public: `recalled`, `before_and_after`.
"""

from __future__ import annotations

from math import log2

from reedwright.workshop.history.model import History, Measured
from reedwright.workshop.measuring.model import Measurement, ReedMeasure
from reedwright.workshop.targets.model import Targets


def before_and_after(
    history: History, targets: Targets
) -> tuple[Measurement | None, Measurement | None]:
    """The last measurement before the work, and the last one since, against these targets.

    Before the work is what was measured as `before`; where nothing was, the first measurement
    stands for it if there are others.
    """
    kept = history.measurements
    before = [each for each in kept if each.when == "before"] or list(kept[:1])
    if not before:
        return None, None
    since = [each for each in kept if each.date > before[-1].date and each.when != "before"]
    return recalled(before[-1], targets), recalled(since[-1], targets) if since else None


def recalled(kept: Measured, targets: Targets) -> Measurement:
    """The kept pitches with their cents counted anew, from the targets given.

    Reeds that the harp of the targets has not are left out.
    """
    reeds = []
    there = {target.reed: target for target in targets.reeds}
    for each in kept.reeds:
        if each.reed not in there:
            continue
        target = there[each.reed]
        wanted = target.bench_hz if kept.at_bench else target.hz
        reeds.append(
            ReedMeasure(
                each.reed,
                each.tones,
                each.hz,
                1200 * log2(each.hz / wanted),
                each.uncertainty,
                each.wander,
                each.attack,
                each.level,
                others=each.others,
            )
        )
    heard = {each.reed for each in reeds}
    missing = tuple(each.reed for each in targets.reeds if each.reed not in heard)
    return Measurement(targets, (), tuple(reeds), missing, kept.shift, kept.at_bench)
