"""Short looks at sound as it comes in: how much of it is tone, and in which bands.

Public: `Frames`, `Look`, `HOP`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reedwright.workshop.measuring.partials import Array32, Array64

HOP = 0.010  # seconds from look to look
WINDOW = 0.080  # seconds of each: partials of the lowest reeds stand apart
_BOTTOM, _TOP = 60.0, 5_000.0  # Hz
_AROUND = 250.0  # Hz over which lines are told from noise
_LOW_SHARE = 0.25  # of the bins around: lines stand on fewer than the rest
_ABOVE = 20.0  # times that: noise reaches it in 3 bins of 1,000
_PER_OCTAVE = 24
_BAND = 50.0  # cents to either side that one band gathers


class Look(NamedTuple):
    """Many looks: `level` (dBFS of what is tone), `share` of tone in the whole power, and
    `bands` of shape (looks, bands), each row of length 1: where the tone lies."""

    level: Array32
    share: Array32
    bands: Array32


class Frames:
    """Looks at one rate. Look n is at the middle `n * HOP` seconds."""

    def __init__(self, rate: float) -> None:
        self.rate = rate
        self.size = 2 * round(WINDOW * rate / 2)
        self._padded = 1 << (self.size - 1).bit_length()
        window = np.hanning(self.size + 1)[:-1]
        self._window = window.astype(np.float32)
        hz = np.fft.rfftfreq(self._padded, 1 / rate).astype(np.float64)
        self._bins = slice(int(np.searchsorted(hz, _BOTTOM)), int(np.searchsorted(hz, _TOP)))
        # A sine at full scale has -3 dBFS: its power is a half.
        self._power = 2 / (self._padded * float(np.sum(window**2)))
        self._width = max(4, round(_AROUND / hz[1]))
        self._bands = _bands(hz[self._bins], 2 * rate / self.size)

    def middle(self, index: int) -> int:
        """The sample in the middle of a look."""
        return round(index * HOP * self.rate)

    def looks(self, sound: Array32) -> Look:
        """`sound` of shape (looks, size): what each look sees."""
        from scipy.fft import rfft

        spectra = rfft(sound * self._window, self._padded, axis=1)[:, self._bins]
        power = np.square(spectra.real) + np.square(spectra.imag)
        count = power.shape[1] // self._width
        blocks = power[:, : count * self._width].reshape(len(power), count, self._width)
        place = int(_LOW_SHARE * self._width)
        low = np.partition(blocks, place, axis=2)[:, :, place]
        noise = np.repeat(low, self._width, axis=1)
        noise = np.pad(noise, ((0, 0), (0, power.shape[1] - noise.shape[1])), mode="edge")
        tone = np.where(power > _ABOVE * noise, power, 0)
        whole = power.sum(axis=1) + 1e-12
        held = tone.sum(axis=1)
        level = 10 * np.log10(held * np.float32(self._power) + 1e-12)
        # The fourth root lets faint lines count, too: beats of a unison change some, never all.
        bands = np.sqrt(np.sqrt(tone)) @ self._bands
        length = np.sqrt(np.einsum("ij,ij->i", bands, bands))[:, None] + 1e-9
        return Look(
            level.astype(np.float32),
            (held / whole).astype(np.float32),
            (bands / length).astype(np.float32),
        )


def _bands(hz: Array64, lobe: float) -> Array32:
    """Shape (bins, bands): triangles of a semitone's width, wider where the window is coarser."""
    middles = _BOTTOM * 2 ** (np.arange(0, np.log2(_TOP / _BOTTOM), 1 / _PER_OCTAVE))
    width = np.maximum(middles * (2 ** (2 * _BAND / 1200) - 1), lobe / 2)
    made = np.maximum(0, 1 - np.abs(hz[:, None] - middles) / width)
    return made.astype(np.float32)
