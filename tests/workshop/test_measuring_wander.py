"""Reeds whose pitch wanders slowly: the error told covers how far a tone's mean may lie off."""

from __future__ import annotations

import numpy as np

from reedwright.workshop.measuring.listening import ReedListener

RATE = 22_050
STEP = 64  # samples between two moments of the wandering
SPREAD, MEMORY = 1.5, 0.3  # cents (standard deviation); seconds


def _wandering(random: np.random.Generator, frames: int) -> np.ndarray:
    """Cents: a first-order autoregression, whose mean is 0 in the long run."""
    keep = np.exp(-STEP / (MEMORY * RATE))
    moments = [random.normal() * SPREAD]
    for _ in range(frames // STEP + 1):
        moments.append(keep * moments[-1] + random.normal() * SPREAD * np.sqrt(1 - keep**2))
    return np.interp(np.arange(frames) / STEP, np.arange(len(moments)), moments)


def test_a_wandering_reed_is_not_told_surer_than_it_is() -> None:
    random = np.random.default_rng(20_261)
    apart = []
    for _ in range(20):
        hz, frames = random.uniform(200, 1_500), RATE
        cents = _wandering(random, frames)
        turned = 2 * np.pi * np.cumsum(hz * 2 ** (cents / 1200)) / RATE
        sound = sum(np.sin(k * turned) / k for k in range(1, 7) if k * hz < 9_000) * 0.1
        edge = np.minimum(1, np.minimum(np.arange(frames), np.arange(frames)[::-1]) / 440)
        sound = np.pad(sound * edge, RATE // 3)
        sound += random.normal(0, 0.002, len(sound))
        listener = ReedListener(RATE)
        found = [*listener.feed(sound.astype(np.float32)), *listener.finish()]
        assert len(found) == 1
        apart.append(1200 * np.log2(found[0].hz / hz) / found[0].uncertainty)
    off = np.abs(apart)
    # Two thirds of honest standard errors hold; hardly any did when noise alone was counted.
    assert 0.4 <= np.mean(off < 1) <= 0.95
    assert np.mean(off < 3) >= 0.85
