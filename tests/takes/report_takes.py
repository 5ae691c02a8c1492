"""Takes for the tests of reports: the demo tunes on their harps, played and heard as wished."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
from imagined_hearing import heard_of
from known_following import followed
from played_badly import Performance, perform

from reedwright.harp.making import make_harp
from reedwright.harp.model import Technique
from reedwright.player.loading import load_profile
from reedwright.sound.hearing.model import Heard
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.takes.model import Following
from reedwright.takes.report.judging import judge
from reedwright.takes.report.model import TakeReport
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

TUNES = Path(__file__).parents[2] / "examples" / "tunes.abc"
REEL, JIG, AIR = 0, 1, 4


@lru_cache(maxsize=16)
def demo(number: int = REEL, harp: str = "G", tuning: str = "richter") -> Arrangement:
    tunes = [tune for tune in read_tunes(TUNES) if isinstance(tune, Tune)]
    return arrange(tunes[number], make_harp(harp, tuning), load_profile("all-techniques"))


def bends(arrangement: Arrangement, performance: Performance) -> list[int]:
    """Which of the notes as played are not plain."""
    return [
        k
        for k, truth in enumerate(performance.written)
        if (way := arrangement.soundings.get(truth.id)) is not None
        and way.technique is not Technique.NATURAL
    ]


def taken(
    arrangement: Arrangement, performance: Performance, cents: float = 0.0, jitter: float = 0.004
) -> Following:
    """Heard without fault and followed without fault."""
    heard = heard_of(performance.notes, cents=cents, jitter=jitter)
    return followed(arrangement, performance, heard)


def report_on(arrangement: Arrangement, **how: object) -> TakeReport:
    """The report on a take played so (see `played_badly.perform`)."""
    performance = perform(arrangement, **how)  # type: ignore[arg-type]
    return judge(taken(arrangement, performance))


def with_glides(heard: Heard, midis: set[int], cents: float = 90.0) -> Heard:
    """Every note of these pitches begins so many cents above and sinks within 70 ms."""
    hz = heard.track.hz.copy()
    for note in heard.notes:
        if round(note.midi) in midis:
            window = heard.track.frames(note.start, min(note.end, note.start + 0.07))
            fall = np.linspace(cents, 0.0, window.stop - window.start)
            hz[window] *= (2 ** (fall / 1200)).astype(np.float32)
    track = heard.track
    from dataclasses import replace

    return replace(heard, track=replace(track, hz=hz))
