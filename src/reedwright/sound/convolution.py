"""Long filters applied block by block in the frequency domain."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array32 = npt.NDArray[np.float32]

BLOCK = 1 << 16  # frames of one transform


def convolved(sound: Array32, answers: Array32) -> Array32:
    """`sound`, shape (frames,), through each impulse response of `answers`, shape (n, length).

    Shape (n, frames): what rings on beyond the end is cut off.
    """
    step = BLOCK - answers.shape[1] + 1
    spectra = np.fft.rfft(answers, BLOCK)
    out = np.zeros((len(answers), len(sound) + BLOCK), dtype=np.float32)
    for start in range(0, len(sound), step):
        spectrum = np.fft.rfft(sound[start : start + step], BLOCK)
        out[:, start : start + BLOCK] += np.fft.irfft(spectra * spectrum, BLOCK)
    return out[:, : len(sound)]
