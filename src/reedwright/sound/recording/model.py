"""The values that reading a recording gives, and the errors of it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from reedwright.errors import ReedwrightError


class UnreadableRecording(ReedwrightError):
    """A file that is no sound, is broken or is empty: the message says which, and where."""


@dataclass(frozen=True, slots=True)
class Recording:
    """A file that holds sound.

    `rate` is in samples a second; `codec` as FFmpeg names it. `seconds` is as the file says,
    or counted packet by packet where it says nothing that can be trusted (`seconds_counted`);
    it is a plan for progress bars, and the sound itself has the last word. `sound_starts` is
    how many seconds into the file its sound begins: more than 0 where a film begins before
    its sound. `blocks` gives silence up to there, so that times are those a player shows.
    """

    path: Path
    rate: int
    channels: int
    seconds: float
    codec: str
    seconds_counted: bool = False
    sound_starts: float = 0.0


class TroubleKind(StrEnum):
    """What may be wrong with a recording that can be read."""

    SILENCE = "silence"
    CLIPPING = "clipping"
    NOISE = "noise"
    DAMAGE = "damage"  # a stretch that could not be decoded


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something wrong in a recording, from `start` to `end` in seconds.

    `message` is for people: what, where, and what to do about it.
    """

    kind: TroubleKind
    start: float
    end: float
    message: str
