"""The tune on a harp of the table made sound, and when its notes are heard.

Public: `wav_on`, `times_on`.
"""

from __future__ import annotations

from reedwright.tab.arrangement import Arrangement
from reedwright.web.music.drawing import drawn_print
from reedwright.web.music.remembering import Remembered
from reedwright.web.music.sounding import bar_times, timeline_of, times, wav
from reedwright.web.tune.model import TimesView

_SOUND: Remembered[bytes] = Remembered(60_000_000, len)  # bytes; a reel has some 5 million


def wav_on(arrangement: Arrangement, speed: float, count_in: bool) -> bytes:
    key = (drawn_print(arrangement), speed, count_in)
    return _SOUND.get(key, lambda: wav(timeline_of(arrangement, speed, count_in)))


def times_on(arrangement: Arrangement, speed: float, count_in: bool) -> TimesView:
    timeline = timeline_of(arrangement, speed, count_in)
    found = times(timeline)
    return TimesView(
        duration=found.duration,
        tune_start=found.tune_start,
        notes=list(found.notes),
        bars=list(bar_times(arrangement, timeline)),
    )
