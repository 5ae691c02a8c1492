"""The tune made sound for the page, and when its notes are heard.

One sound is made at a time, so that it never keeps those waiting who write; one that nobody waits
for any more is not made to its end.

Public: `wav_of`, `times_of`, `kept_for`, `NotWanted`.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import CancelledError

from reedwright.errors import ReedwrightError
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.choices.model import ChoicesError
from reedwright.web.music.drawing import drawn_print
from reedwright.web.music.sounding import timeline_of, wav
from reedwright.web.music.standing import Standing
from reedwright.web.music.told import TimesView, times_told
from reedwright.web.remembering import Remembered

MOST_SOUND = 120_000_000  # bytes that are remembered; a reel at full speed has some 7 million
LONGEST = 1200.0  # seconds of sound; a long tune, slowly, with all repeats

_SOUND: Remembered[bytes] = Remembered(MOST_SOUND, len)
_MAKING = threading.Lock()


class NotWanted(CancelledError):
    """Whoever asked is gone."""


def wav_of(
    standing: Standing,
    speed: float,
    count_in: bool,
    clicks: bool,
    wanted: Callable[[], bool] = lambda: True,
) -> bytes:
    """Raises `ReedwrightError` where the tune cannot be played, `NotWanted` as soon as `wanted`
    says no."""
    arrangement = _arrangement(standing)
    key = (drawn_print(arrangement), speed, count_in, clicks)

    def check(share: float = 0.0) -> None:
        if not wanted():
            raise NotWanted

    def make() -> bytes:
        timeline = timeline_of(arrangement, speed, count_in, clicks)
        if timeline.duration > LONGEST:
            raise ReedwrightError(
                f"{arrangement.tune.title}: with all its repeats it lasts "
                f"{timeline.duration / 60:.0f} minutes; {LONGEST / 60:.0f} are the most that are "
                "played here. Play it faster, or take repeats out."
            )
        with _MAKING:
            check()
            return wav(timeline, check)

    while True:
        try:
            return _SOUND.get(key, make)
        except NotWanted:
            check()  # another who asked for the same is gone, and not we: make it ourselves


def times_of(standing: Standing, speed: float, count_in: bool, clicks: bool) -> TimesView:
    """When notes and bars are heard. Raises as `wav_of`."""
    arrangement = _arrangement(standing)
    timeline = timeline_of(arrangement, speed, count_in, clicks)
    return times_told(arrangement, timeline)


def _arrangement(standing: Standing) -> Arrangement:
    if standing.arrangement is None:
        raise ChoicesError(standing.trouble or "The text has to be mended before it can be heard.")
    return standing.arrangement


def kept_for(standing: Standing, at: str) -> dict[str, str]:
    """Where the address says which states it is of, the browser may keep the sound."""
    looked = standing.looked
    choices = looked.arrangement.state.number if looked.arrangement else 0
    present = f"{looked.item.state.number}.{choices}"
    # What is heard hangs on harps and players that are kept elsewhere, too: hence not for long.
    return {"cache-control": "private, max-age=600" if at == present else "no-store"}
