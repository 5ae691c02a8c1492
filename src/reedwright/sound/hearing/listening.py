"""Listening to a recording: from sound to pitch, notes and onsets.

Public: `hear`, `hear_sound`, `WANTED_RATE`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from reedwright.errors import ReedwrightError
from reedwright.sound.hearing.gathering import Gatherer
from reedwright.sound.hearing.model import Array32, Heard, PitchTrack
from reedwright.sound.hearing.path import follow_pitch
from reedwright.sound.hearing.salience import HOP, combs_for
from reedwright.sound.hearing.segmenting import CLEAR, cut_notes
from reedwright.sound.hearing.tuning import reference_pitch

WANTED_RATE = 22_050  # Hz: what costs least; any from `LEAST_RATE` up is heard
LEAST_RATE = 16_000

Progress = Callable[[float, str], None]  # the share done, and what is being done


def hear_sound(sound: Array32, rate: int) -> Heard:
    """Hear sound of shape (frames,) that is there in one go. Raises as `hear`."""
    return hear([sound], rate)


def hear(
    blocks: Iterable[Array32], rate: int, progress: Progress = lambda share, doing: None
) -> Heard:
    """Hear blocks of shape (frames,), one channel at `rate` Hz, of whatever lengths.

    The answer does not depend on how the sound is cut into blocks. Raises `ReedwrightError` for
    a rate under `LEAST_RATE`.
    """
    if rate < LEAST_RATE:
        raise ReedwrightError(
            f"Sound of {rate} samples a second is too coarse to hear reeds in: "
            f"bring it to {LEAST_RATE} or more."
        )
    gatherer = Gatherer(rate)
    given = 0
    for block in blocks:
        gatherer.add(block)
        given += len(block)
    sound = gatherer.finish()
    progress(0.2, "listening")
    candidates = combs_for(sound.rate).candidates(sound)
    progress(0.7, "listening")
    midi, score = follow_pitch(candidates)
    cut = cut_notes(sound, midi, score, candidates.level)
    progress(1.0, "listening")
    surety = np.clip(score / CLEAR, 0, 1).astype(np.float32)
    track = PitchTrack(0.0, HOP, cut.hz, surety, candidates.level)
    return Heard(cut.notes, track, cut.novelty, reference_pitch(cut.notes), given / rate)
