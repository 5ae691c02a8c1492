"""How loud one pitch's partials are from moment to moment, finely enough to see a note begin.

Public: `Strand`, `strand_of`, `FINE`, `QUIET`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.gathering import Gathered

FINE = 0.0025  # seconds from step to step
_WINDOW = 0.012  # seconds: what a rise is blurred by
_PERIODS = 3.0  # a window holds at least so many periods, or the level throbs with them
_PARTIALS = 8
_TOP = 6_000.0  # Hz
QUIET = 1e-6  # of full scale: as soft as anything gets

Array64 = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Strand:
    """The amplitude of a pitch's partials together, of full scale; step k at `start + k * FINE`."""

    start: float
    amplitude: Array64

    @property
    def decibels(self) -> Array64:
        return 20 * np.log10(self.amplitude + QUIET)

    def index(self, time: float) -> int:
        """The step nearest to a time, of those that there are."""
        return int(np.clip(round((time - self.start) / FINE), 0, len(self.amplitude) - 1))

    def level(self, start: float, end: float) -> float:
        """The usual level between two times, in dBFS."""
        first = self.index(start)
        return float(np.median(self.decibels[first : max(first + 1, self.index(end))]))

    def time(self, index: float) -> float:
        return self.start + index * FINE


def strand_of(sound: Gathered, hz: float, start: float, end: float) -> Strand:
    """Follow a steady pitch from `start` to `end` (seconds)."""
    from scipy.fft import rfft

    rate = sound.rate
    count = max(2, round((end - start) / FINE) + 1)
    size = 2 * round(max(_WINDOW, _PERIODS / hz) * rate / 2)
    padded = 1 << size.bit_length()
    middles = np.rint((start + FINE * np.arange(count)) * rate).astype(np.int64)
    first = int(middles[0]) - size // 2
    part = sound.part(first, int(middles[-1]) + size)
    frames = part[(middles - size // 2 - first)[:, None] + np.arange(size)]
    window = np.hanning(size + 1)[:-1]
    frames = frames * (window * 2 / window.sum()).astype(np.float32)
    partials = np.arange(1, max(1, min(_PARTIALS, int(_TOP / hz))) + 1)
    bins = np.rint(partials * hz * padded / rate).astype(np.int64)
    spectrum = rfft(frames, padded, axis=1)[:, bins]
    amplitude = np.sqrt(np.sum(np.abs(spectrum) ** 2, axis=1)).astype(np.float64)
    return Strand(start, amplitude)
