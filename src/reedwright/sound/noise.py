"""The chance in the sound, always the same: breath noise and slow drift from fixed seeds."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

Array32 = npt.NDArray[np.float32]

_LENGTH = 1 << 18
_DRIFT_LENGTH = 1 << 12
DRIFT_RATE = 100.0  # values a second
_BREATH_BAND = (900.0, 7500.0)  # Hz, where air through a slot hisses (assumption)
_DRIFT_BAND = (0.4, 7.0)  # Hz: how fast a breath wavers (assumption)


@lru_cache(maxsize=1)
def _breath_bank() -> Array32:
    return _banded(np.random.default_rng(1897), _LENGTH, 44_100.0, _BREATH_BAND, 1.0)


@lru_cache(maxsize=1)
def _drift_bank() -> Array32:
    return _banded(np.random.default_rng(1923), _DRIFT_LENGTH, DRIFT_RATE, _DRIFT_BAND, 1.0)


def _banded(
    chance: np.random.Generator,
    length: int,
    rate: float,
    band: tuple[float, float],
    tilt: float,
) -> Array32:
    """Gaussian noise within a band, falling with frequency; unit power; its end fits its start."""
    spectrum = np.fft.rfft(chance.standard_normal(length))
    hertz = np.fft.rfftfreq(length, 1 / rate)
    low, high = band
    safe = np.maximum(hertz, low / 10)
    shape = 1 / (1 + (low / safe) ** 4) / (1 + (safe / high) ** 4) / (safe / low) ** (tilt / 2)
    noise = np.fft.irfft(spectrum * shape, length)
    scaled: Array32 = (noise / np.std(noise)).astype(np.float32)
    return scaled


def breath(frames: int, seed: int) -> Array32:
    """Breath noise of unit power."""
    return _slice(_breath_bank(), frames, seed * 48_611)


def drift(points: int, seed: int) -> Array32:
    """Slow wavering of unit power, `DRIFT_RATE` values a second."""
    return _slice(_drift_bank(), points, seed * 977)


def _slice(bank: Array32, length: int, start: int) -> Array32:
    start %= len(bank)
    if start + length <= len(bank):
        return bank[start : start + length]
    return np.resize(np.roll(bank, -start), length)
