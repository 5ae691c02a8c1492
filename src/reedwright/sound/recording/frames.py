"""Decoded frames as sound: gathered, then turned into float32 many at a time.

Public: `Frames`, `Piece`. A frame holds some 20 ms; one by one, turning them costs more than
decoding them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.model import Array32

if TYPE_CHECKING:
    from av.audio.frame import AudioFrame

GATHERED = 0.25  # seconds
LOUDEST = 16.0
"""Samples of float files are held within 24 dB over full scale: what is beyond is damage."""


class Piece(NamedTuple):
    """Sound of shape (frames, channels) at `rate`."""

    sound: Array32
    rate: int


class Frames:
    """Frames of one kind that wait to be turned into a piece of so many channels."""

    def __init__(self, channels: int) -> None:
        self._channels = channels
        self._waiting: list[npt.NDArray[np.generic]] = []
        self._kind = (0, "", 0)  # rate, sample format, channels
        self._held = 0

    def fits(self, frame: AudioFrame) -> bool:
        """Whether the frame can be joined to those that wait."""
        return not self._waiting or self._kind == _kind(frame)

    def add(self, frame: AudioFrame, samples: int) -> bool:
        """Take the first `samples` of a frame that fits; whether it is time to `take`."""
        self._kind = _kind(frame)
        raw: npt.NDArray[np.generic] = frame.to_ndarray()
        # Planar formats have a row for each channel, others one row with the channels in turn.
        self._waiting.append(raw[:, : samples * (raw.shape[1] // frame.samples)])
        self._held += samples
        return self._held >= GATHERED * self._kind[0]

    def take(self) -> Piece | None:
        """All that waits, as a piece; None where nothing does."""
        if not self._held:
            return None
        rate, _, channels = self._kind
        joined = self._waiting[0] if len(self._waiting) == 1 else np.hstack(self._waiting)
        self._waiting, self._held = [], 0
        if len(joined) != channels:
            joined = joined.reshape(-1, channels).T
        sound = np.ascontiguousarray(_as_float(joined).T)
        return Piece(_with_channels(sound, self._channels), rate)


def _kind(frame: AudioFrame) -> tuple[int, str, int]:
    return frame.sample_rate, frame.format.name, frame.layout.nb_channels


def _as_float(raw: npt.NDArray[np.generic]) -> Array32:
    """Samples of any type as float32, full scale at 1."""
    sound: Array32 = raw.astype(np.float32)
    if raw.dtype == np.uint8:
        return (sound - np.float32(128)) / np.float32(128)
    if np.issubdtype(raw.dtype, np.integer):
        return sound / np.float32(2.0 ** (8 * raw.dtype.itemsize - 1))
    np.nan_to_num(sound, copy=False, nan=0.0, posinf=1.0, neginf=-1.0)
    np.clip(sound, -LOUDEST, LOUDEST, out=sound)
    return sound


def _with_channels(sound: Array32, channels: int) -> Array32:
    """With so many channels, where they change within a file."""
    if sound.shape[1] == channels:
        return sound
    mono = sound.mean(axis=1, keepdims=True, dtype=np.float32)
    return np.repeat(mono, channels, axis=1)
