"""The sound of one track: its cuts laid one after another, with crossfades, and its clicks.

Public: `cut_track`, `Source`.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import numpy as np
import numpy.typing as npt

from reedwright.sound.events import Click, Timeline
from reedwright.sound.levelling import level
from reedwright.sound.spool import Spool
from reedwright.takes.practice.model import Cut, Track
from reedwright.takes.practice.preparing import RATE

Array32 = npt.NDArray[np.float32]

# By how much a finished track of the reed voice is louder than the voice itself (measured on the
# demo tunes: 1.58 to 1.80): so clicks are as loud beside a take as they are there.
CLICK_GAIN = 1.7
_CLICK_SECONDS = 1.0  # until the room has died away


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """A take, or a stretch of it, at one speed. `begin` is the second of the take at which it
    begins."""

    sound: Spool
    begin: float
    speed: float

    def frame(self, second: float) -> int:
        """Where a second of the take is."""
        return round((second - self.begin) / self.speed * RATE)


def cut_track(track: Track, source: Source, folder: Path) -> Spool:
    """The track on disk, not yet brought to its loudness; exactly `track.duration` long."""
    channels = 2 if track.clicks else source.sound.channels
    made = np.zeros((round(track.duration * RATE), channels), dtype=np.float32)
    fade = round(track.fade * RATE)
    for cut in track.cuts:
        _lay(made, cut, source, fade)
    spool = Spool(channels, folder)
    if track.clicks:
        # Clicks are as loud as beside the reed voice, so the music is levelled before them.
        with Spool(channels, folder) as music:
            music.add(made)
            gain = level(music, RATE).gain
        made = made * np.float32(gain) + CLICK_GAIN * _clicks(track)[: len(made)]
    spool.add(made)
    return spool


def _lay(made: Array32, cut: Cut, source: Source, fade: int) -> None:
    """Add a cut in its place. It fades in before its start and out before its end.

    Where another follows at once the two fades are one crossfade whose gains add up to 1.
    """
    at = round(cut.at * RATE)
    start = source.frame(cut.start)
    # The next cut begins where this one ends, to the frame of the track.
    frames = round((cut.end - cut.start) / source.speed * RATE)
    lead = min(fade, at)
    piece = source.sound.read(start - lead, start + frames)
    slope = (0.5 - 0.5 * np.cos(np.pi * (np.arange(fade) + 0.5) / max(1, fade)))[:, None]
    if lead:
        piece[:lead] *= slope[fade - lead :].astype(np.float32)
    if fade:
        piece[-fade:] *= (1 - slope[-len(piece) :]).astype(np.float32)
    room = made[at - lead : at + frames]
    room += piece[: len(room)]


def _clicks(track: Track) -> Array32:
    """The clicks of the reed voice's tracks, in its room."""
    from reedwright.sound.voice import render

    return render(
        Timeline(
            title=track.title,
            notes=(),
            clicks=tuple(Click(*click) for click in track.clicks),
            spans={},
            bars=(),
            tempi=(),
            length=Fraction(0),
            tune_start=0.0,
            duration=max(track.duration, track.clicks[-1].time + _CLICK_SECONDS),
            speed=track.speed,
            lilt="",
        )
    )
