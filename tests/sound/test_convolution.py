"""Long filters block by block give what SciPy's convolution of the whole gives."""

import numpy as np
import scipy.signal

from reedwright.sound.convolution import BLOCK, convolved


def test_blocks_join_as_one_convolution() -> None:
    random = np.random.default_rng(5)
    sound = random.standard_normal(2 * BLOCK + 1234).astype(np.float32)
    answers = random.standard_normal((2, 3001)).astype(np.float32)
    for ours, answer in zip(convolved(sound, answers), answers, strict=True):
        whole = scipy.signal.fftconvolve(sound.astype(float), answer.astype(float))[: len(sound)]
        assert np.abs(ours - whole).max() < 1e-4 * np.abs(whole).max()
