"""Whether a recording is of another harp than it was said to be: the same tuning in another key.

Public: `better_key`.
"""

from __future__ import annotations

import numpy as np

from reedwright.harp.making import make_harp
from reedwright.harp.model import Harp
from reedwright.harp.naming import KEYS
from reedwright.workshop.measuring.model import Measurement

NEAR = 40.0  # cents; reeds are farther off only one by one
FEWEST = 6  # tones
FITS = 0.8  # a harp that so many of the tones fit is taken as said
BETTER = 0.2  # by so many more another one has to fit


def better_key(measurement: Measurement) -> Harp | None:
    """The harp of this tuning and another key or register that fits the tones plainly better."""
    heard = [hz for each in measurement.tones for hz in (each.tone.hz, each.tone.upper_hz) if hz]
    if len(heard) < FEWEST:
        return None
    targets = measurement.targets
    said = targets.harp
    hz = [each.bench_hz if measurement.at_bench else each.hz for each in targets.reeds]
    off = 1200 * np.log2(np.array(heard)[:, None] / np.array(hz)[None, :])

    def fit(semitones: int) -> float:
        return float((np.abs(off - 100 * semitones).min(axis=1) < NEAR).mean())

    # Above or below the harp that was said; of equals the nearest.
    tried = sorted((s for s in range(-12, 13) if s), key=lambda s: (-fit(s), abs(s)))
    if fit(0) >= FITS or fit(tried[0]) < max(FITS, fit(0) + BETTER):
        return None
    for key in KEYS:
        for register in ("ordinary", "low", "high"):
            harp = make_harp(key, said.tuning, register, said.isolated, said.a4)
            if harp.transpose == said.transpose + tried[0]:
                return harp
    return None
