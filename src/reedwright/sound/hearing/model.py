"""The values that listening gives: the pitch track, the notes heard, and both together."""

from __future__ import annotations

from dataclasses import dataclass
from math import log2

import numpy as np
import numpy.typing as npt

Array32 = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class PitchTrack:
    """Pitch, frame by frame. All arrays have shape (frames,).

    Frame k is centred at `start + k * hop` seconds. `hz` is 0 where no pitch is heard;
    `surety` (0 to 1) says how clearly periodic the frame is; `level` is in dBFS.
    """

    start: float
    hop: float
    hz: Array32
    surety: Array32
    level: Array32

    @property
    def times(self) -> npt.NDArray[np.float64]:
        """The middle of each frame in seconds."""
        return self.start + self.hop * np.arange(len(self.hz), dtype=np.float64)

    def frames(self, start: float, end: float) -> slice:
        """The frames whose middles lie from `start` to before `end` (seconds)."""
        first = max(0, int(np.ceil((start - self.start) / self.hop - 1e-9)))
        return slice(first, max(first, int(np.ceil((end - self.start) / self.hop - 1e-9))))


@dataclass(frozen=True, slots=True)
class HeardNote:
    """One note as it was heard, from its onset to where it stops or the next begins.

    `hz` is the pitch of its held part (the median), `spread` how far that wanders, in cents
    (half the distance between the quartiles). `level` is in dBFS. `attack` (0 to 1) says how
    plainly it begins anew: near 0 where pitch alone changed in one breath. `surety` (0 to 1)
    says how sure it is that this is a note of that pitch.
    """

    start: float
    end: float
    hz: float
    spread: float
    level: float
    attack: float
    surety: float

    @property
    def midi(self) -> float:
        """The pitch as a MIDI note with fractions, at A 440."""
        return 69 + 12 * log2(self.hz / 440)

    @property
    def seconds(self) -> float:
        return self.end - self.start


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """A recording as heard.

    `notes` by start. `a4` is the reference pitch that the playing fits best, in Hz.
    `novelty` (shape of the track, 0 to 1) is how much each frame looks like an onset, so
    that a note that is expected can be looked for. `duration` is the recording's, in seconds.
    """

    notes: tuple[HeardNote, ...]
    track: PitchTrack
    novelty: Array32
    a4: float
    duration: float
