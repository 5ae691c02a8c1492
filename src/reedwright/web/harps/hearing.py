"""The tune on a harp of the table made sound, and when its notes are heard.

Public: `wav_on`, `times_on`, `Heard`.
"""

from __future__ import annotations

from typing import Annotated

from pydantic import BaseModel, WithJsonSchema

from reedwright.tab.arrangement import Arrangement
from reedwright.web.music.drawing import drawn_print
from reedwright.web.music.sounding import bar_times, timeline_of, times, wav
from reedwright.web.remembering import Remembered

_SOUND: Remembered[bytes] = Remembered(60_000_000, len)  # bytes; a reel has some 5 million


def _rows(columns: int, *kinds: str) -> WithJsonSchema:
    """Rows of so many columns of these kinds, told so that every reader of schemas can follow."""
    cells = {"anyOf": [{"type": kind} for kind in kinds]}
    row = {"type": "array", "minItems": columns, "maxItems": columns, "items": cells}
    return WithJsonSchema({"type": "array", "items": row})


class Heard(BaseModel):
    """Seconds from the beginning of the sound. `notes`: id, begin, end, hole, breath; `bars`: index
    as written, begin, end; as played."""

    duration: float
    tune_start: float
    notes: Annotated[list[tuple[str, float, float, int, str]], _rows(5, "string", "number")]
    bars: Annotated[list[tuple[int, float, float]], _rows(3, "number")]


def wav_on(arrangement: Arrangement, speed: float, count_in: bool) -> bytes:
    key = (drawn_print(arrangement), speed, count_in)
    return _SOUND.get(key, lambda: wav(timeline_of(arrangement, speed, count_in)))


def times_on(arrangement: Arrangement, speed: float, count_in: bool) -> Heard:
    timeline = timeline_of(arrangement, speed, count_in)
    found = times(timeline)
    return Heard(
        duration=found.duration,
        tune_start=found.tune_start,
        notes=list(found.notes),
        bars=list(bar_times(arrangement, timeline)),
    )
