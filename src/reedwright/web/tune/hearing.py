"""The tune made sound for the page, and when its notes are heard.

Public: `wav_of`, `times_of`, `kept_for`.
"""

from __future__ import annotations

from reedwright.sound.events import Timeline
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.choices.model import ChoicesError
from reedwright.web.music.drawing import drawn_print
from reedwright.web.music.remembering import Remembered
from reedwright.web.music.sounding import bar_times, timeline_of, times, wav
from reedwright.web.tune.model import TimesView
from reedwright.web.tune.viewing import Standing

MOST_SOUND = 120_000_000  # bytes that are remembered; a reel at full speed has some 5 million

_SOUND: Remembered[bytes] = Remembered(MOST_SOUND, len)


def wav_of(standing: Standing, speed: float, count_in: bool, clicks: bool) -> bytes:
    """Raises `ReedwrightError` where the tune cannot be played."""
    arrangement = _arrangement(standing)
    key = (drawn_print(arrangement), speed, count_in, clicks)
    return _SOUND.get(key, lambda: wav(_timeline(arrangement, speed, count_in, clicks)))


def times_of(standing: Standing, speed: float, count_in: bool, clicks: bool) -> TimesView:
    """When notes and bars are heard. Raises as `wav_of`."""
    arrangement = _arrangement(standing)
    timeline = _timeline(arrangement, speed, count_in, clicks)
    found = times(timeline)
    return TimesView(
        duration=found.duration,
        tune_start=found.tune_start,
        notes=list(found.notes),
        bars=list(bar_times(arrangement, timeline)),
    )


def _timeline(arrangement: Arrangement, speed: float, count_in: bool, clicks: bool) -> Timeline:
    return timeline_of(arrangement, speed, count_in)


def _arrangement(standing: Standing) -> Arrangement:
    if standing.arrangement is None:
        raise ChoicesError(standing.trouble or "The text has to be mended before it can be heard.")
    return standing.arrangement


def kept_for(standing: Standing, at: str) -> dict[str, str]:
    """Where the address says which states it is of, the browser may keep the sound."""
    looked = standing.looked
    choices = looked.arrangement.state.number if looked.arrangement else 0
    present = f"{looked.item.state.number}.{choices}"
    return {"cache-control": "private, max-age=3600" if at == present else "no-store"}
