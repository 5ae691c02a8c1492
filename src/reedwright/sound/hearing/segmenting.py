"""The course of pitch cut into notes.

Public: `cut_notes`, `novelty_of`.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.model import Array32, HeardNote
from reedwright.sound.hearing.salience import HOP

_SAME = 0.6  # semitones from frame to frame that are still one note
_SHORTEST = 0.025  # seconds
_RISE = 5.0  # dB within `_WITHIN` that make a new onset on one pitch
_WITHIN = 5  # frames


def novelty_of(level: Array32) -> Array32:
    """0 to 1: how far the level has risen in the last frames, full at 12 dB."""
    rise = np.zeros(len(level), dtype=np.float32)
    for back in range(1, _WITHIN + 1):
        rise[back:] = np.maximum(rise[back:], level[back:] - level[:-back])
    return np.clip(rise / 12, 0, 1).astype(np.float32)


def cut_notes(
    midi: npt.NDArray[np.float64], score: Array32, level: Array32, novelty: Array32
) -> tuple[HeardNote, ...]:
    """Notes from the pitch of each frame (nan for none)."""
    frames = len(midi)
    if not frames:
        return ()
    voiced = np.isfinite(midi)
    with np.errstate(invalid="ignore"):
        moved = np.abs(np.diff(midi)) >= _SAME
    new = np.flatnonzero(np.concatenate([[True], (voiced[1:] != voiced[:-1]) | moved]))
    again = np.flatnonzero(novelty * 12 > _RISE)
    starts = set(new.tolist())
    last = -100
    for k in again.tolist():
        if k - last > _WITHIN and not any(abs(k - s) <= 2 * _WITHIN for s in starts):
            starts.add(k)
        last = k
    edges = [*sorted(starts), frames]
    notes: list[HeardNote] = []
    for first, end in zip(edges, edges[1:], strict=False):
        if not voiced[first] or (end - first) * HOP < _SHORTEST:
            continue
        held = midi[first:end]
        low, mid, high = np.percentile(held, (25, 50, 75))
        notes.append(
            HeardNote(
                start=first * HOP,
                end=end * HOP,
                hz=float(440 * 2 ** ((mid - 69) / 12)),
                spread=float(50 * (high - low)),
                level=float(level[first:end].max()),
                attack=float(novelty[max(0, first - 2) : first + 6].max()),
                surety=float(np.clip(np.median(score[first:end]) / 0.7, 0, 1)),
            )
        )
    return tuple(notes)
