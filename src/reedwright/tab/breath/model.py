"""Values of the breath account. Air in litres from the middle of the lungs: above it is full.

Public: `BreathMark`, `BreathReason`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from reedwright.tab.ornaments.model import Origin


class BreathReason(StrEnum):
    """Why a breath lies here, the most natural first."""

    PART_END = "end of a part"
    PHRASE_END = "end of a phrase"
    LONG_NOTE = "long note"
    BETWEEN = "between two notes"
    DROPPED_NOTE = "through a dropped note"
    TEACHER = "the teacher's choice"


@dataclass(frozen=True, slots=True)
class BreathMark:
    """A breath taken after a written note, each time that it is played.

    `note_id` is the note before the breath (in the dressed tune). With `DROPPED_NOTE` that
    note itself is left out for it. `bar` is the printed number.
    """

    note_id: str
    bar: int
    reason: BreathReason
    origin: Origin = Origin.SUGGESTED
