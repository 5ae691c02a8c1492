"""The pitch that a whole take is tuned to.

Public: `reference_pitch`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reedwright.sound.hearing.model import HeardNote

STANDARD = 440.0  # Hz, ISO 16


def reference_pitch(notes: Sequence[HeardNote]) -> float:
    """Hz of A4: how far the notes lie off the semitones of A 440, as a mean on the circle.

    Each counts by its length, surety and steadiness. 440 where nothing was heard.
    """
    if not notes:
        return STANDARD
    midi = np.array([note.midi for note in notes])
    weight = np.array(
        [min(note.seconds, 1.0) * note.surety / (1 + note.spread / 10) for note in notes]
    )
    mean = np.sum(weight * np.exp(2j * np.pi * midi))
    if abs(mean) == 0:
        return STANDARD
    return float(STANDARD * 2 ** (np.angle(mean) / (2 * np.pi) / 12))
