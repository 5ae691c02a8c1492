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
    """A file that holds sound. `seconds` is as the file says; `codec` as FFmpeg names it."""

    path: Path
    rate: int
    channels: int
    seconds: float
    codec: str


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
