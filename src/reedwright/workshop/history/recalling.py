"""A kept measurement as one that was just made, to be set beside other targets.

Public: `recalled`, `before_and_after`.
"""

from __future__ import annotations

from math import log2

from reedwright.workshop.history.model import Converted, History, Measured
from reedwright.workshop.measuring.model import Measurement, ReedMeasure
from reedwright.workshop.targets.model import Targets

NOT_YET = 60.0  # cents; a reed that is farther from its new note has not been worked on yet


def before_and_after(
    history: History, targets: Targets
) -> tuple[Measurement | None, Measurement | None]:
    """What was last measured before the work on these targets, and what since, against them.

    The work is the harp's last conversion, if one was told. Without one, the last measurement
    called `before` (or the first of several) and the last one since; but where that one's reeds
    are still far from notes that they are to get, the work is not done, and it is the before.
    """
    kept = history.measurements
    done = [entry.date for entry in history.by_date if isinstance(entry, Converted)]
    if done:
        before = [each for each in kept if each.date < done[-1]]
        since = [each for each in kept if each.date >= done[-1]]
    else:
        before = [each for each in kept if each.when == "before"] or list(kept[:1])
        since = [each for each in kept if before and each.date > before[-1].date]
        since = [each for each in since if each.when != "before"]
        if since and _undone(recalled(since[-1], targets)):
            before, since = since, []
    return (
        recalled(before[-1], targets) if before else None,
        recalled(since[-1], targets) if since else None,
    )


def _undone(measured: Measurement) -> bool:
    return any(abs(each.cents) > NOT_YET for each in measured.reeds)


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
