"""What a perfect or a somewhat hard of hearing listener would hear of notes that are known.

For tests of following, reports and notation that are to be quick and apart from sound.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from soundfont_takes import Played

from reedwright.sound.hearing.model import Heard, HeardNote, PitchTrack

HOP = 0.005  # seconds


def heard_of(
    notes: Sequence[Played],
    *,
    seed: int = 1,
    jitter: float = 0.004,
    cents: float = 0.0,
    unheard: float = 0.0,
    tail: float = 1.0,
) -> Heard:
    """Hear notes with onsets off by `jitter` seconds (deviation), all `cents` sharp.

    A share `unheard` of notes is not noticed: it is part of the note before where that has the
    same pitch, else it is lost.
    """
    random = np.random.default_rng(seed)
    duration = max((note.end for note in notes), default=0.0) + tail
    frames = int(duration / HOP) + 1
    hz = np.zeros(frames, dtype=np.float32)
    level = np.full(frames, -70.0, dtype=np.float32)
    novelty = np.zeros(frames, dtype=np.float32)
    found: list[HeardNote] = []
    for note in sorted(notes):
        pitch = 440 * 2 ** ((note.midi - 69 + cents / 100) / 12)
        start = max(0.0, note.start + float(random.normal(0, jitter)))
        first, last = int(start / HOP), int(note.end / HOP)
        hz[first:last] = pitch
        level[first:last] = -15.0
        if random.random() < unheard:
            if found and abs(found[-1].hz / pitch - 1) < 0.003 and note.start - found[-1].end < 0.1:
                found[-1] = HeardNote(
                    found[-1].start, note.end, pitch, 1.0, -15.0, found[-1].attack, 0.9
                )
            continue
        novelty[first : first + 2] = 1.0
        found.append(HeardNote(start, max(note.end, start + HOP), pitch, 1.0, -15.0, 0.8, 0.95))
    surety = (hz > 0).astype(np.float32)
    track = PitchTrack(0.0, HOP, hz, surety, level)
    a4 = 440 * 2 ** (cents / 1200)
    return Heard(tuple(found), track, novelty, a4, duration)
