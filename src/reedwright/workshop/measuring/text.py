"""A measurement as text for a terminal: a table in the order of the holes, then what needs work.

Public: `measurement_text`.
"""

from __future__ import annotations

import textwrap

from reedwright.harp.layout import note_name
from reedwright.workshop.measuring.model import Measurement, ReedMeasure
from reedwright.workshop.measuring.remarks import (
    TOLERANCE,
    Matter,
    Remark,
    reed_words,
    remarks,
)
from reedwright.workshop.targets.model import ReedTarget

WIDTH = 80  # columns
_HEAD = (
    "reed      note   target    heard          cents  wander  attack   level  beside",
    "                     Hz       Hz                  cents      ms    dBFS      dB",
)
_TITLES = {
    Matter.OFF: "Needs work, the farthest off first",
    Matter.BEATS: "Beats",
    Matter.HARP: "The whole harp",
}


def measurement_text(measurement: Measurement, tolerance: float = TOLERANCE) -> str:
    """The table (80 columns) and the remarks; `tolerance` in cents."""
    targets = measurement.targets
    wishes = targets.wishes
    heard = {each.reed: each for each in measurement.reeds}
    where = "at the bench" if measurement.at_bench else "as played"
    lines = [
        targets.harp.name,
        f"{len(heard)} of {len(targets.reeds)} reeds heard; against {wishes.temperament} at "
        f"A {wishes.a4:g}, {where}",
    ]
    if measurement.order:
        lines.append(f"Order: {measurement.order}")
    lines += ["", *_HEAD]
    for target in targets.reeds:
        lines.append(_row(target, heard.get(target.reed), measurement))
    if any(each.others for each in measurement.reeds):
        lines += ["", "?  may be another reed of the same note"]
    told = remarks(measurement, tolerance)
    if not told and len(heard) == len(targets.reeds):
        lines += ["", f"Every reed is within {tolerance:g} cents of its target."]
    title = ""
    for remark in told:
        wanted = _TITLES.get(remark.matter, "To look at")
        if wanted != title:
            title = wanted
            lines += ["", f"{title}:"]
        lines += _wrapped(remark)
    return "\n".join(line.rstrip() for line in lines)


def _row(target: ReedTarget, heard: ReedMeasure | None, measurement: Measurement) -> str:
    hz = target.bench_hz if measurement.at_bench else target.hz
    doubtful = "?" if heard is not None and heard.others else ""
    name = f"{reed_words(target.reed):>7}{doubtful}"
    start = f"{name:<9} {note_name(target.midi, measurement.targets.harp):<4} {hz:>8.2f}"
    if heard is None:
        return f"{start} {'-':>8}"
    cents = f"{_signed(heard.cents)} ± {max(0.1, heard.uncertainty):.1f}"
    level = heard.level_beside
    beside = "-" if level is None else _signed(level)
    return (
        f"{start} {heard.hz:>8.2f} {cents:>14} {heard.wander:>7.1f} {1000 * heard.attack:>7.0f} "
        f"{heard.level:>7.1f} {beside:>7}"
    )


def _signed(value: float) -> str:
    """With its sign; nothing has none."""
    return "0.0" if abs(value) < 0.05 else f"{value:+.1f}"


def _wrapped(remark: Remark) -> list[str]:
    return textwrap.wrap(remark.words, WIDTH - 2, initial_indent="  ", subsequent_indent="    ")
