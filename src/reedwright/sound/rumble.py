"""Rumble taken out: steps, handling, traffic, wind and most of the mains' hum.

A Butterworth high-pass of sixth order applied forwards and backwards in effect: its squared
magnitude is the response of one symmetric (zero-phase) impulse response, so that no attack is
smeared or moved. 6 dB down at the corner, then 72 dB an octave; at 1.43 times the corner
(where the lowest reed sounds) 0.1 dB down. Designed by SciPy (`scipy.signal.butter`).

Public: `corner_for`, `Rumble`.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from reedwright.sound.convolution import convolved
from reedwright.sound.spool import Spool

Array32 = npt.NDArray[np.float32]

ORDER = 6
SHARE_OF_LOWEST = 0.7  # the corner, as a share of the lowest note's frequency
HIGHEST_CORNER = 120.0  # Hz: what lies higher may be music, or the room's own warmth
LOWEST_CORNER = 20.0  # Hz
# Eb2, below the lowest reed of the low harps in use (common practice, from memory).
LOWEST_REED = 77.8  # Hz
# The slowest pole of the sixth order has sunk by 120 dB after 8.5 turns of the corner.
_TURNS = 9.0


def corner_for(lowest: float | None) -> float:
    """The corner in Hz for a lowest note in Hz; None where that is not known."""
    corner = SHARE_OF_LOWEST * (LOWEST_REED if lowest is None else lowest)
    return min(HIGHEST_CORNER, max(LOWEST_CORNER, corner))


class Rumble:
    """The filter at one sample rate, `corner` in Hz."""

    def __init__(self, rate: int, corner: float) -> None:
        self.half = round(_TURNS / corner * rate)
        self._kernel = _kernel(rate, corner, self.half)

    def without(self, source: Spool, start: int, stop: int) -> Array32:
        """The frames from `start` to before `stop`, filtered; beyond its ends is silence."""
        sound = source.read(start - self.half, stop + self.half)
        return self._inner(sound)

    def of_whole(self, sound: Array32) -> Array32:
        """All of `sound`, shape (frames, channels), filtered."""
        return self._inner(np.pad(sound, ((self.half, self.half), (0, 0))))

    def _inner(self, sound: Array32) -> Array32:
        frames = len(sound) - 2 * self.half
        channels = [convolved(np.pad(channel, (0, 1)), self._kernel)[0] for channel in sound.T]
        return np.stack([each[2 * self.half :][:frames] for each in channels], axis=1)


@lru_cache(maxsize=4)
def _kernel(rate: int, corner: float, half: int) -> Array32:
    """Symmetric, shape (1, 2 * half + 1)."""
    from scipy.signal import butter, sosfreqz

    size = 1 << (4 * half).bit_length()
    sections = butter(ORDER, corner, "highpass", fs=rate, output="sos")
    _, response = sosfreqz(sections, np.linspace(0, np.pi, size // 2 + 1))
    answer = np.fft.irfft(np.abs(response) ** 2, size)
    centred = np.concatenate([answer[-half:], answer[: half + 1]])
    return centred[None, :].astype(np.float32)
