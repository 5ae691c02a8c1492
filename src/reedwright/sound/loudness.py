"""Loudness and true peak: measured as ITU-R BS.1770 says, set to what listeners expect.

Public: `integrated_loudness`, `true_peak`, `levelled`.
"""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.sound.convolution import convolved

Array32 = npt.NDArray[np.float32]

TARGET_LUFS = -16.0  # speech and music for listening at home and on phones
# Coding as MP3 moves peaks; this leaves room for them under -1 dBTP.
CEILING_DBTP = -2.2
SILENCE_LUFS = -70.0  # BS.1770's absolute gate
_RELATIVE_GATE = -10.0  # LU
_STEP_SECONDS, _STEPS_IN_BLOCK = 0.1, 4  # blocks of 400 ms, three quarters overlapping
_OFFSET = -0.691  # dB, BS.1770
_OVERSAMPLING = 4
_PEAK_BLOCK = 1024  # frames
# Between two samples a wave rises above them; blocks whose samples stay under this share of
# the highest sample cannot hold the true peak for sound whose power lies below 10 kHz.
_PEAK_CANDIDATES = 0.7
_LOOK_AHEAD = 0.006  # seconds
_LIMITER_ROUNDS = 4


class Levels(NamedTuple):
    """Integrated loudness in LUFS and true peak in dBTP."""

    loudness: float
    peak: float


@lru_cache(maxsize=4)
def _k_weighting(rate: int) -> Array32:
    """BS.1770's two filters in one impulse response, shape (1, frames), for any sample rate.

    The standard gives coefficients at 48 kHz; these are the analogue filters behind them
    (B. De Man, "Evaluation of implementations of the EBU R128 loudness measurement", 2018).
    """
    k = np.tan(np.pi * 1681.974450955533 / rate)
    q, gain = 0.7071752369554196, 10 ** (3.999843853973347 / 20)
    mid = gain**0.4996667741545416
    shelf = (
        [gain + mid * k / q + k * k, 2 * (k * k - gain), gain - mid * k / q + k * k],
        [1 + k / q + k * k, 2 * (k * k - 1), 1 - k / q + k * k],
    )
    k, q = np.tan(np.pi * 38.13547087602444 / rate), 0.5003270373238773
    a0 = 1 + k / q + k * k
    high_pass = ([a0, -2 * a0, a0], [a0, 2 * (k * k - 1), 1 - k / q + k * k])
    size = 1 << 16
    delay = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    response = np.ones(len(delay), dtype=np.complex128)
    for upper, lower in (shelf, high_pass):
        response *= np.polyval(upper[::-1], delay) / np.polyval(lower[::-1], delay)
    # The slowest pole has sunk below -200 dB after 0.1 s.
    return np.fft.irfft(response, size)[None, : int(0.15 * rate)].astype(np.float32)


def integrated_loudness(sound: Array32, rate: int) -> float:
    """In LUFS, gated; `SILENCE_LUFS` for silence. `sound` has shape (frames, channels)."""
    step = round(_STEP_SECONDS * rate)
    if len(sound) < _STEPS_IN_BLOCK * step:
        sound = np.pad(sound, ((0, _STEPS_IN_BLOCK * step - len(sound)), (0, 0)))
    steps = len(sound) // step
    power = np.zeros(steps)
    for channel in sound.T:
        weighted = convolved(channel, _k_weighting(rate))[0, : steps * step]
        pieces = weighted.reshape(steps, step)
        power += np.einsum("ij,ij->i", pieces, pieces, dtype=np.float64)
    blocks = np.convolve(power, np.ones(_STEPS_IN_BLOCK), "valid") / (_STEPS_IN_BLOCK * step)
    blocks = blocks[blocks > _power(SILENCE_LUFS)]
    if not len(blocks):
        return SILENCE_LUFS
    gated = blocks[blocks > blocks.mean() * 10 ** (_RELATIVE_GATE / 10)]
    return float(_OFFSET + 10 * np.log10(gated.mean()))


def _power(lufs: float) -> float:
    return float(10 ** ((lufs - _OFFSET) / 10))


def true_peak(sound: Array32) -> float:
    """In dBTP, by fourfold oversampling; minus infinity for silence."""
    peak = _highest(sound)
    return float(20 * np.log10(peak)) if peak else -np.inf


def _highest(sound: Array32) -> float:
    samples = np.abs(sound).max(axis=1)
    highest = float(samples.max(initial=0.0))
    floor = _PEAK_CANDIDATES * highest
    for start in range(0, len(samples) if highest else 0, _PEAK_BLOCK):
        if samples[start : start + _PEAK_BLOCK].max() >= floor:
            highest = max(highest, _highest_between(sound, start))
    return highest


def _highest_between(sound: Array32, start: int) -> float:
    """The highest value of one block, fourfold oversampled (frames around it kept out)."""
    margin = _PEAK_BLOCK // 2
    first = max(0, start - margin)
    part = sound[first : start + _PEAK_BLOCK + margin].T
    frames = part.shape[1] & ~1
    spectrum = np.fft.rfft(part[:, :frames])
    finer = np.fft.irfft(spectrum, frames * _OVERSAMPLING) * _OVERSAMPLING
    inner = finer[:, (start - first) * _OVERSAMPLING :][:, : _PEAK_BLOCK * _OVERSAMPLING]
    return float(np.abs(inner).max(initial=0.0))


def levelled(sound: Array32, rate: int) -> tuple[Array32, Levels]:
    """The sound at `TARGET_LUFS`, its true peak not above `CEILING_DBTP`, and its levels.

    One gain for the whole track; only where peaks then stand out, a look-ahead limiter
    takes them down. Silence stays as it is.
    """
    loudness = integrated_loudness(sound, rate)
    if loudness <= SILENCE_LUFS:
        return sound, Levels(loudness, true_peak(sound))
    level = sound * np.float32(10 ** ((TARGET_LUFS - loudness) / 20))
    peak = true_peak(level)
    for _ in range(_LIMITER_ROUNDS):
        if peak <= CEILING_DBTP:
            break
        level = _limited(level, rate, CEILING_DBTP - 0.3)
        loudness = integrated_loudness(level, rate)
        level *= np.float32(10 ** ((TARGET_LUFS - loudness) / 20))
        peak = true_peak(level)
    return level, Levels(TARGET_LUFS, peak)


def _limited(sound: Array32, rate: int, ceiling: float) -> Array32:
    """Peaks taken under the ceiling (dBFS) by a smooth gain that begins before them."""
    from scipy.ndimage import minimum_filter1d, uniform_filter1d

    window = round(_LOOK_AHEAD * rate) | 1
    samples = np.maximum(np.abs(sound).max(axis=1), 1e-9)
    gain = np.minimum(1.0, 10 ** (ceiling / 20) / samples)
    gain = minimum_filter1d(gain, 2 * window + 1)
    for _ in range(2):  # twice: no corners in the gain
        gain = uniform_filter1d(gain, window)
    limited: Array32 = (sound * gain[:, None]).astype(np.float32)
    return limited
