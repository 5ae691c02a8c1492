"""Heavy noise: how far the playing stands above hiss, wind, traffic or a room full of people.

Public: `NoiseWatch`, `signal_to_noise`.

Every ten seconds of sound are judged by themselves. Of the short spectra (about 45 ms) in which
something sounds, the noise in each frequency is taken from the low end of what is found there over
time: partials of a melody come and go, noise stays (the idea of minimum statistics, R. Martin,
"Noise power spectral density estimation based on optimal smoothing and minimum statistics",
IEEE Trans. Speech and Audio Processing 9(5), 2001, in its simplest form). The power of noise in
one bin is distributed exponentially, so its mean follows from the quantile. A median over
neighbouring frequencies passes over a drone. What is left of the whole power is the playing.

The bounds are our own, calibrated on takes of known noise (see the tests).
"""

from __future__ import annotations

from math import log, log10
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.model import Array32
from reedwright.sound.recording.chunks import Chunk, Chunks
from reedwright.sound.recording.model import Trouble, TroubleKind
from reedwright.sound.recording.places import stretch

SEGMENT = 10.0  # seconds
SHORTEST = 1.0  # seconds; less says nothing about noise
FRAME = 0.045  # seconds, made a power of two of samples
LOWEST, HIGHEST = 100.0, 8_000.0  # Hz: rumble below is taken out of tracks, nothing plays above
HEAVY = 14.0  # dB
QUIETEST = -60.0  # dBFS: less is silence and no noise
MOST_TOLD = 3
_SOUNDING = 20.0  # dB under the loud frames
_LOUD_SHARE = 0.9
_LOW_SHARE = 0.15
_NEIGHBOURS = 9  # bins


class _Judged(NamedTuple):
    start: float
    end: float
    decibels: float


class NoiseWatch:
    """Keeps one figure for every ten seconds."""

    def __init__(self) -> None:
        self._chunks = Chunks(SEGMENT)
        self._judged: list[_Judged] = []

    def add(self, sound: Array32, rate: int, start: float) -> None:
        """The next piece, of shape (frames,), that begins at `start` (seconds)."""
        for chunk in self._chunks.add(sound, rate, start):
            self._judge(chunk)

    def _judge(self, chunk: Chunk) -> None:
        found = signal_to_noise(chunk.sound, chunk.rate)
        if found is not None:
            end = chunk.start + len(chunk.sound) / chunk.rate
            self._judged.append(_Judged(chunk.start, end, found))

    def troubles(self) -> list[Trouble]:
        """The noisy stretches: the worst few, or the whole where most of it is noisy."""
        for chunk in self._chunks.rest():
            self._judge(chunk)
        noisy = [each for each in self._judged if each.decibels < HEAVY]
        if not noisy:
            return []
        if 2 * len(noisy) > len(self._judged):
            middle = sorted(each.decibels for each in noisy)[len(noisy) // 2]
            return [_trouble(noisy[0].start, noisy[-1].end, "nearly all through", middle)]
        runs = sorted(_runs(noisy), key=lambda run: run.decibels)[:MOST_TOLD]
        return [
            _trouble(run.start, run.end, stretch(run.start, run.end), run.decibels)
            for run in sorted(runs)
        ]


def _runs(noisy: list[_Judged]) -> list[_Judged]:
    runs: list[_Judged] = []
    for each in noisy:
        if runs and each.start - runs[-1].end < SEGMENT / 2:
            worst = min(runs[-1].decibels, each.decibels)
            runs[-1] = _Judged(runs[-1].start, each.end, worst)
        else:
            runs.append(each)
    return runs


def _trouble(start: float, end: float, where: str, decibels: float) -> Trouble:
    message = (
        f"There is heavy noise {where}: the playing stands only about "
        f"{max(0, round(decibels))} dB above it. Go nearer to the microphone or to a quieter "
        "place; what is heard there is less sure."
    )
    return Trouble(TroubleKind.NOISE, start, end, message)


def signal_to_noise(sound: Array32, rate: int) -> float | None:
    """How many dB what plays stands above the steady noise, from 100 Hz to 8 kHz.

    `sound` of shape (frames,), some seconds. None where nothing sounds or it is too short.
    """
    size = 1 << round(np.log2(FRAME * rate))
    frames = len(sound) // size
    if len(sound) < SHORTEST * rate or frames < 1 / _LOW_SHARE:
        return None
    windowed = sound[: frames * size].reshape(frames, size) * _hann(size)
    low, high = int(np.ceil(LOWEST * size / rate)), int(min(HIGHEST, 0.45 * rate) * size / rate)
    spectra = np.fft.rfft(windowed, axis=1)[:, low:high]
    power = np.square(spectra.real) + np.square(spectra.imag)
    level = power.sum(axis=1) / (0.1875 * size**2)  # so that a sine at full scale has 0 dB
    loud = float(np.quantile(level, _LOUD_SHARE))
    if loud < 10 ** (QUIETEST / 10):
        return None
    sounding = power[level >= loud * 10 ** (-_SOUNDING / 10)]
    floor = np.quantile(sounding, _LOW_SHARE, axis=0) / -log(1 - _LOW_SHARE)
    noise = float(_smoothed(floor).sum())
    whole = float(sounding.sum(axis=1).mean())
    playing = max(whole - noise, 1e-3 * whole)
    return 10 * log10(playing / max(noise, 1e-12 * whole))


def _smoothed(floor: npt.NDArray[np.floating]) -> npt.NDArray[np.floating]:
    """The median over neighbouring frequencies."""
    padded = np.pad(floor, _NEIGHBOURS // 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, _NEIGHBOURS)
    median: npt.NDArray[np.floating] = np.median(windows, axis=1)
    return median


def _hann(size: int) -> Array32:
    return np.hanning(size).astype(np.float32)
