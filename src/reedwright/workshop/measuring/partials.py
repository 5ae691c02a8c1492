"""Single partials cut out of a stretch of sound, slow enough to look at their turning.

A partial near `hz` is moved to 0 Hz and only what lies within a band around it is kept: then its
size is how loud the partial is, and its turning how far it lies from `hz` (the complex envelope;
Gabor 1946, Theory of communication). One Fourier transform of the whole stretch serves for all.

Public: `Stretch`, `Strand`. Within the room: `Array64`, `Complex`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

Array32 = npt.NDArray[np.float32]
Array64 = npt.NDArray[np.float64]
Complex = npt.NDArray[np.complex128]

HIGHEST = 9_500.0  # Hz: nothing above is looked at
_FLAT = 0.6  # of a band's half width that is passed unchanged; beyond it falls as a cosine
_SPARE = 1.1  # slow samples for each Hz of the full band


class Strand(NamedTuple):
    """A partial: complex amplitude (peak of the wave) at `times` (seconds in the stretch)."""

    times: Array64
    values: Complex

    def between(self, first: float, last: float) -> Strand:
        inside = (self.times >= first) & (self.times <= last)
        return Strand(self.times[inside], self.values[inside])


class Stretch:
    """Some sound of shape (frames,) at `rate`, and its Fourier transform."""

    def __init__(self, sound: Array64, rate: float) -> None:
        from scipy.fft import next_fast_len, rfft

        self.sound, self.rate = sound, rate
        self.seconds = len(sound) / rate
        # Silence behind keeps what is at the end from reaching round to the beginning.
        self._size = next_fast_len(len(sound) + int(0.1 * rate), real=True)
        self._spectrum: Complex = rfft(sound, self._size)
        self.top = min(HIGHEST, 0.45 * rate)

    def strand(self, hz: float, half: float, reach: float | None = None) -> Strand:
        """The partial within `half` Hz of `hz`.

        Strands of the same `reach` (Hz, at least `half`) have the same times.
        """
        from scipy.fft import ifft, next_fast_len

        step = self.rate / self._size
        wide = max(half, reach or half)
        count = next_fast_len(max(4, int(np.ceil(2 * _SPARE * wide / step))))
        middle = round(hz / step)
        bins = np.arange(count) - count // 2
        weight = _band((bins + middle) * step - hz, half)
        place = bins + middle
        inside = (place >= 0) & (place < len(self._spectrum)) & (weight > 0)
        taken = np.zeros(count, dtype=np.complex128)
        taken[inside] = self._spectrum[place[inside]] * weight[inside]
        values = ifft(np.fft.ifftshift(taken)) * (2 * count / self._size)
        slow_rate = count * step
        times = np.arange(count) / slow_rate
        values = values * np.exp(2j * np.pi * (middle * step - hz) * times)
        kept = times < self.seconds
        return Strand(times[kept], values[kept])


def _band(off: Array64, half: float) -> Array64:
    edge = np.clip((np.abs(off) / half - _FLAT) / (1 - _FLAT), 0, 1)
    weight: Array64 = 0.5 * (1 + np.cos(np.pi * edge))
    return weight
