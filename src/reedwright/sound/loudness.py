"""Loudness and true peak: measured as ITU-R BS.1770 says, set to what listeners expect.

Public: `integrated_loudness`, `true_peak`, `levelled`; for sound that comes in pieces (see
`levelling`) `LoudnessMeter`, `peak_within`, `limited`.
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
_SMALLEST = 1e-6  # of full scale: below it no peak is looked for
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
    return _gated(power, step)


def _gated(power: npt.NDArray[np.float64], step: int) -> float:
    """Integrated loudness of the summed power of each step of `step` frames."""
    blocks = np.convolve(power, np.ones(_STEPS_IN_BLOCK), "valid") / (_STEPS_IN_BLOCK * step)
    blocks = blocks[blocks > _power(SILENCE_LUFS)]
    if not len(blocks):
        return SILENCE_LUFS
    gated = blocks[blocks > blocks.mean() * 10 ** (_RELATIVE_GATE / 10)]
    return float(_OFFSET + 10 * np.log10(gated.mean()))


class LoudnessMeter:
    """Integrated loudness of sound that comes piece by piece, as `integrated_loudness` has it.

    `copies`: in how many channels of a file each of its channels stands (2 for mono sound that
    is written as stereo).
    """

    def __init__(self, rate: int, copies: int = 1) -> None:
        self._rate, self._copies = rate, copies
        self._step = round(_STEP_SECONDS * rate)
        self._before: Array32 | None = None  # what the weighting still remembers
        self._rest: npt.NDArray[np.float64] = np.zeros(0)  # power of an unfinished step
        self._powers: list[npt.NDArray[np.float64]] = []

    def add(self, sound: Array32) -> None:
        """Hear the next piece, shape (frames, channels)."""
        if not len(sound):
            return
        weighting = _k_weighting(self._rate)
        memory = weighting.shape[1] - 1
        if self._before is None:
            self._before = np.zeros((0, sound.shape[1]), dtype=np.float32)
        known = np.concatenate([self._before, sound])
        power = np.zeros(len(sound))
        for channel in known.T:
            weighted = convolved(channel, weighting)[0, len(self._before) :]
            power += np.square(weighted, dtype=np.float64)
        self._before = known[-memory:].copy()
        power = np.concatenate([self._rest, power])
        steps = len(power) // self._step
        self._powers.append(power[: steps * self._step].reshape(steps, self._step).sum(axis=1))
        self._rest = power[steps * self._step :]

    def loudness(self) -> float:
        """In LUFS, gated; `SILENCE_LUFS` for silence."""
        power = np.concatenate([np.zeros(0), *self._powers])
        if len(power) < _STEPS_IN_BLOCK:
            power = np.append(power, self._rest.sum())
            power = np.pad(power, (0, max(0, _STEPS_IN_BLOCK - len(power))))
        return _gated(self._copies * power, self._step)


def _power(lufs: float) -> float:
    return float(10 ** ((lufs - _OFFSET) / 10))


def true_peak(sound: Array32) -> float:
    """In dBTP, by fourfold oversampling; minus infinity for silence."""
    peak = peak_within(sound, 0, len(sound), 0.0)
    return float(20 * np.log10(peak)) if peak else -np.inf


def peak_within(sound: Array32, start: int, stop: int, highest: float) -> float:
    """The highest value, also between samples, of the frames `start` to `stop` of `sound`.

    Frames around them are heard but not counted. `highest` (a factor of full scale) is what
    was found before; only what may be higher is looked at, and the higher one is returned.
    """
    samples = np.abs(sound).max(axis=1)
    highest = max(highest, float(samples[start:stop].max(initial=0.0)))
    for first in range(start, stop, _PEAK_BLOCK):
        last = min(first + _PEAK_BLOCK, stop)
        if samples[first:last].max() >= max(_PEAK_CANDIDATES * highest, _SMALLEST):
            finer = _finer(sound, first)[:, : (last - first) * _OVERSAMPLING]
            highest = max(highest, float(np.abs(finer).max(initial=0.0)))
    return highest


def _finer(sound: Array32, start: int) -> npt.NDArray[np.float64]:
    """One block fourfold oversampled, shape (channels, frames)."""
    margin = _PEAK_BLOCK // 2
    first = max(0, start - margin)
    part = sound[first : start + _PEAK_BLOCK + margin].T
    frames = part.shape[1] & ~1
    spectrum = np.fft.rfft(part[:, :frames])
    finer = np.fft.irfft(spectrum, frames * _OVERSAMPLING) * _OVERSAMPLING
    return finer[:, (start - first) * _OVERSAMPLING :][:, : _PEAK_BLOCK * _OVERSAMPLING]


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
        level = limited(level, rate, CEILING_DBTP - 0.3)
        loudness = integrated_loudness(level, rate)
        level *= np.float32(10 ** ((TARGET_LUFS - loudness) / 20))
        peak = true_peak(level)
    return level, Levels(TARGET_LUFS, peak)


def limited(sound: Array32, rate: int, ceiling: float) -> Array32:
    """Peaks taken under the ceiling (dBFS) by a smooth gain that begins before them.

    What a peak changes reaches three times `_LOOK_AHEAD` seconds around it.
    """
    from scipy.ndimage import minimum_filter1d, uniform_filter1d

    window = round(_LOOK_AHEAD * rate) | 1
    samples = np.maximum(np.abs(sound).max(axis=1), 1e-9)
    gain = np.minimum(1.0, 10 ** (ceiling / 20) / samples)
    gain = minimum_filter1d(gain, 2 * window + 1)
    for _ in range(2):  # twice: no corners in the gain
        gain = uniform_filter1d(gain, window)
    limited: Array32 = (sound * gain[:, None]).astype(np.float32)
    return limited
