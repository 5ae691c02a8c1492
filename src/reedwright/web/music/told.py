"""When notes and bars are heard, as the pages are told it, and how fast a tune is asked for.

Public: `TimesView`, `times_told`, `Speed`, `rows`.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import Query
from pydantic import BaseModel, WithJsonSchema

from reedwright.sound.events import Timeline
from reedwright.tab.arrangement import Arrangement
from reedwright.web.music.sounding import bar_times, times

Speed = Annotated[float, Query(ge=0.25, le=1.5)]
"""As a share of the tune's own."""


def rows(*kinds: str, columns: int) -> WithJsonSchema:
    """Rows of so many columns of these kinds, told so that every reader of schemas can follow."""
    cells = [{"type": kind} for kind in kinds]
    row = {"type": "array", "minItems": columns, "maxItems": columns, "items": {"anyOf": cells}}
    return WithJsonSchema({"type": "array", "items": row})


NoteTimes = Annotated[list[tuple[str, float, float, int, str]], rows("string", "number", columns=5)]
BarTimes = Annotated[list[tuple[int, float, float]], rows("number", columns=3)]


class TimesView(BaseModel):
    """Seconds from the beginning of the sound. `notes`: id, begin, end, hole, breath; `bars`: index
    as written, begin, end; as played."""

    duration: float
    tune_start: float
    notes: NoteTimes
    bars: BarTimes


def times_told(arrangement: Arrangement, timeline: Timeline) -> TimesView:
    found = times(timeline)
    return TimesView(
        duration=found.duration,
        tune_start=found.tune_start,
        notes=list(found.notes),
        bars=list(bar_times(arrangement, timeline)),
    )
