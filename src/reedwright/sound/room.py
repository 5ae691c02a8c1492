"""A little room: early reflections and a short tail, different for the two ears."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from reedwright.sound.convolution import convolved

Array32 = npt.NDArray[np.float32]

# A furnished room (assumptions): after so many milliseconds a wall answers so loud.
_REFLECTIONS = (
    ((11.3, 0.16), (17.9, -0.11), (23.1, 0.10), (31.7, -0.07)),
    ((12.9, 0.15), (16.1, -0.12), (26.3, 0.09), (34.9, -0.07)),
)
TAIL_STARTS, SECONDS_TO_60_DB = 0.028, 0.55
TAIL_LEVEL = 0.16  # root of the tail's energy beside the dry sound's
DAMPED_ABOVE = 4200.0  # Hz
_SECONDS = 0.65


@lru_cache(maxsize=2)
def _answers(rate: int) -> Array32:
    """Impulse responses, shape (2, frames): what the room adds."""
    frames = int(_SECONDS * rate)
    time = np.arange(frames) / rate
    answers = np.zeros((2, frames))
    for ear, reflections in enumerate(_REFLECTIONS):
        chance = np.random.default_rng(1950 + ear)
        tail = chance.standard_normal(frames) * 10 ** (-3 * time / SECONDS_TO_60_DB)
        tail *= np.clip((time - TAIL_STARTS) / 0.01, 0, 1)
        tail *= TAIL_LEVEL / np.sqrt(np.sum(tail**2))
        for milliseconds, level in reflections:
            tail[round(milliseconds / 1000 * rate)] += level
        answers[ear] = _damped(tail, rate)
    return answers.astype(np.float32)


def _damped(answer: npt.NDArray[np.float64], rate: int) -> npt.NDArray[np.float64]:
    spectrum = np.fft.rfft(answer, 2 * len(answer))
    hertz = np.fft.rfftfreq(2 * len(answer), 1 / rate)
    spectrum /= 1 + 1j * hertz / DAMPED_ABOVE
    spectrum *= 1 / (1 - 1j * 120.0 / np.maximum(hertz, 1.0))  # no boom
    return np.fft.irfft(spectrum, 2 * len(answer))[: len(answer)]


def in_room(dry: Array32, rate: int) -> Array32:
    """Mono (frames,) to stereo (frames, 2) in the room; what rings on beyond the end is cut."""
    wet = convolved(dry, _answers(rate))
    wet += dry
    return wet.T
