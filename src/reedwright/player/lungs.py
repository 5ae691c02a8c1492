"""How much air a player has and what playing takes of it.

All figures are assumptions (judgement, no source): people differ, and so do harps. They are
the table `[lungs]` of a profile.

Public: `Lungs`, `lungs_meanings`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any


def _figure(default: float, meaning: str) -> Any:
    return field(default=default, metadata={"meaning": meaning})


@dataclass(frozen=True, slots=True)
class Lungs:
    """Litres count from a comfortable middle, to which every quiet breath returns."""

    comfortable_litres: float = _figure(
        1.0, "litres above or below the middle that are comfortable"
    )
    most_litres: float = _figure(
        1.6, "litres above or below the middle where a player must breathe"
    )
    blow_rate: float = _figure(0.20, "litres a second of a plain blow note at middling loudness")
    draw_rate: float = _figure(0.20, "litres a second of a plain draw note at middling loudness")
    low_hole: float = _figure(1.2, "factor for holes 1 to 3")
    high_hole: float = _figure(0.7, "factor for holes 8 and higher")
    bend: float = _figure(1.25, "factor for a bent note")
    overbend: float = _figure(1.3, "factor for an overblow or overdraw")
    valved: float = _figure(0.85, "factor for a reed that a valve isolates: nothing leaks past")
    loudness_step: float = _figure(1.2, "factor for each step louder than mf (divided for softer)")
    breath_seconds: float = _figure(0.25, "seconds that a quick breath takes from the note before")
    breath_rate: float = _figure(4.0, "litres a second of such a breath, in or out")
    rest_rate: float = _figure(1.5, "litres a second that come or go in a rest")


def lungs_meanings() -> dict[str, str]:
    """Every figure with what it means, in the order of the documentation."""
    return {each.name: str(each.metadata["meaning"]) for each in fields(Lungs)}
