"""A practice track as it is planned: which stretches of the take it plays, and when."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from reedwright.sound.events import Click


class TrackKind(StrEnum):
    """What a track plays."""

    WHOLE = "whole"
    PART = "part"
    LOOP = "loop"


class Cut(NamedTuple):
    """A stretch of the take in a track.

    From `start` to before `end`, seconds in the take; it begins `at` seconds into the track
    and runs at the track's speed.
    """

    start: float
    end: float
    at: float


@dataclass(frozen=True, slots=True)
class Track:
    """One file to be made.

    `percent` of the take's own tempo; `cuts` in order of time, `clicks` of a count-in and
    `duration` in seconds of the track. `fade` is how long each cut fades in before its start
    and out up to its end, in seconds of the track; where cuts follow each other this is a
    crossfade. `title` and `what` are for people.
    """

    kind: TrackKind
    file: str
    title: str
    what: str
    percent: int
    cuts: tuple[Cut, ...]
    duration: float
    fade: float = 0.0
    clicks: tuple[Click, ...] = ()

    @property
    def speed(self) -> float:
        return self.percent / 100
