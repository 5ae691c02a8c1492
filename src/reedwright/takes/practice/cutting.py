"""The sound of one track: its cuts laid one after another, with crossfades, and its clicks.

Public: `cut_track`, `Source`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.sound.events import Click, Timeline
from reedwright.sound.levelling import level
from reedwright.sound.spool import PIECE, Spool
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
    """The track on disk, not yet brought to its loudness; exactly `track.duration` long.

    It is laid piece by piece, so that many rounds of a long passage fit in memory.
    """
    channels = 2 if track.clicks else source.sound.channels
    spool = Spool(channels, folder)
    for piece in _music(track, source, channels):
        spool.add(piece)
    if not track.clicks:
        return spool
    with spool as music:
        # Clicks are as loud as beside the reed voice, so the music is levelled before them.
        gain = np.float32(level(music, RATE).gain)
        clicks = CLICK_GAIN * _clicks(track)
        clicked = Spool(channels, folder)
        for start, stop in music.pieces():
            piece = music.read(start, stop) * gain
            heard = clicks[start:stop]
            piece[: len(heard)] += heard
            clicked.add(piece)
    return clicked


def _music(track: Track, source: Source, channels: int) -> Iterator[Array32]:
    """All cuts in their places, in consecutive pieces."""
    frames = round(track.duration * RATE)
    laid = [_laid(cut, source, round(track.fade * RATE)) for cut in track.cuts]
    for start in range(0, frames, PIECE):
        made = np.zeros((min(PIECE, frames - start), channels), dtype=np.float32)
        for each in laid:
            each.add_to(made, start, source.sound)
        yield made


class _Laid(NamedTuple):
    """A cut in frames: `place` in the track and `begin` in the source, `frames` long.

    Its first `lead` frames fade in, before the cut's own start, its last `fade` frames fade out
    before its end. Where another follows at once the two fades are one crossfade whose gains
    add up to 1.
    """

    place: int
    begin: int
    frames: int
    lead: int
    fade: int

    def add_to(self, made: Array32, start: int, sound: Spool) -> None:
        """Add what falls into a piece of the track that begins at frame `start`."""
        first = max(self.place, start)
        last = min(self.place + self.frames, start + len(made))
        if first >= last:
            return
        at = np.arange(first, last) - self.place
        piece = sound.read(self.begin + int(at[0]), self.begin + int(at[-1]) + 1)
        gain = np.where(at < self.lead, self._rise(at + self.fade - self.lead), 1.0)
        to_end = at - (self.frames - self.fade)
        gain = np.where(to_end >= 0, gain * (1 - self._rise(to_end)), gain)
        made[first - start : last - start] += piece * gain[:, None].astype(np.float32)

    def _rise(self, at: npt.NDArray[np.int_]) -> npt.NDArray[np.float64]:
        """The gain `at` frames into a rise of `fade` frames."""
        rise: npt.NDArray[np.float64] = 0.5 - 0.5 * np.cos(np.pi * (at + 0.5) / max(1, self.fade))
        return rise


def _laid(cut: Cut, source: Source, fade: int) -> _Laid:
    at = round(cut.at * RATE)
    # The next cut begins where this one ends, to the frame of the track.
    frames = round((cut.end - cut.start) / source.speed * RATE)
    lead = min(fade, at)
    return _Laid(at - lead, source.frame(cut.start) - lead, lead + frames, lead, fade)


def _clicks(track: Track) -> Array32:
    """The clicks of the reed voice's tracks, in its room, until they have died away."""
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
            duration=track.clicks[-1].time + _CLICK_SECONDS,
            speed=track.speed,
            lilt="",
        )
    )
