"""The tune on a harp of the table made sound, and when its notes are heard.

Public: `wav_on`, `times_on`.
"""

from __future__ import annotations

from reedwright.tab.arrangement import Arrangement
from reedwright.web.music.drawing import drawn_print
from reedwright.web.music.sounding import timeline_of, wav
from reedwright.web.music.told import TimesView, times_told
from reedwright.web.remembering import Remembered

_SOUND: Remembered[bytes] = Remembered(60_000_000, len)  # bytes; a reel has some 5 million


def wav_on(arrangement: Arrangement, speed: float, count_in: bool) -> bytes:
    key = (drawn_print(arrangement), speed, count_in)
    return _SOUND.get(key, lambda: wav(timeline_of(arrangement, speed, count_in)))


def times_on(arrangement: Arrangement, speed: float, count_in: bool) -> TimesView:
    return times_told(arrangement, timeline_of(arrangement, speed, count_in))
