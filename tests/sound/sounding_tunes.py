"""Tunes put on a harp for tests of sound, and an independent tracker of pitch."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import numpy.typing as npt

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
REEL, JIG, HORNPIPE, AIR = 0, 1, 3, 4


@lru_cache
def example(number: int, key: str = "D", player: str = "player") -> Arrangement:
    tune = list(read_tunes(EXAMPLES))[number]
    assert isinstance(tune, Tune)
    return arrange(tune, make_harp(key, "richter-raised-3-blow"), load_profile(player))


def from_abc(
    body: str,
    meter: str = "4/4",
    kind: str = "",
    tempo: str = "1/4=120",
    key: str = "C",
    harp: str = "C",
    player: str = "all-techniques",
    valves: str = "none",
) -> Arrangement:
    head = f"X:1\nT:Test\nM:{meter}\nL:1/8\nQ:{tempo}\n" + (f"R:{kind}\n" if kind else "")
    (tune,) = read_abc(f"{head}K:{key}\n{body}\n")
    assert isinstance(tune, Tune)
    return arrange(tune, make_harp(harp, "richter", valves=valves), load_profile(player))


def coarse_pitch(sound: npt.NDArray[np.float32], rate: int) -> float:
    """Hz by YIN's cumulative mean normalised difference (de Cheveigne, Kawahara 2002)."""
    part = sound[: min(len(sound), 4096)].astype(np.float64)
    lags = min(rate // 85, len(part) // 2)
    size = len(part) - lags
    spectrum = np.fft.rfft(part, 2 * len(part))
    head = np.fft.rfft(part[:size], 2 * len(part))
    shared = np.fft.irfft(spectrum * np.conj(head))[:lags]
    energy = np.concatenate([[0.0], np.cumsum(part**2)])
    difference = energy[size] + energy[size : size + lags] - energy[:lags] - 2 * shared
    normal = difference[1:] * np.arange(1, lags) / np.maximum(np.cumsum(difference[1:]), 1e-12)
    first = int(np.argmax(normal < 0.2)) if (normal < 0.2).any() else int(np.argmin(normal))
    while first + 1 < len(normal) and normal[first + 1] < normal[first]:
        first += 1
    return rate / (first + 1)


def pitch_of(sound: npt.NDArray[np.float32], rate: int) -> float:
    """Hz, found without knowing what should be there.

    Coarsely by YIN, then by the phase advance between two windowed transforms at the
    strongest partials, weighted by their power.
    """
    coarse = coarse_pitch(sound, rate)
    hop = 64
    size = len(sound) - hop
    window = np.hanning(size)
    first, second = np.fft.rfft(sound[:size] * window), np.fft.rfft(sound[hop:] * window)
    bins = np.fft.rfftfreq(size, 1 / rate)
    found, weights = [], []
    for partial in range(1, 9):
        near = np.abs(bins - partial * coarse) < 0.12 * coarse
        if partial * coarse > 9000 or not near.any():
            break
        peak = np.flatnonzero(near)[np.argmax(np.abs(first[near]))]
        turn = np.angle(second[peak] / first[peak])
        expected = 2 * np.pi * bins[peak] * hop / rate
        turn += 2 * np.pi * np.round((expected - turn) / (2 * np.pi))
        found.append(turn * rate / (2 * np.pi * hop) / partial)
        weights.append(np.abs(first[peak]) ** 2)
    return float(np.average(found, weights=weights))


def cents(found: float, wanted: float) -> float:
    return float(1200 * np.log2(found / wanted))
