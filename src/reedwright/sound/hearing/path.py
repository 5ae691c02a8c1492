"""The likeliest course of pitch through the candidates of all frames (Viterbi's method).

Public: `follow_pitch`.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.model import Array32
from reedwright.sound.hearing.salience import CHOICES, Candidates

# Costs, in the unit of a candidate's score in one frame; tuned on takes that are not measured.
_NO_PITCH = 0.34  # a frame with nothing better than this score is taken for no pitch
_JUMP = 0.5  # to leave a pitch for another
_START = 0.35  # to begin or to stop
_NEAR = 0.4  # semitones: within this the pitch has only wandered, as in a bend
_WANDER = 0.25  # for each semitone wandered


def follow_pitch(found: Candidates) -> tuple[npt.NDArray[np.float64], Array32]:
    """MIDI pitch (nan for none) and the score of each frame."""
    frames = len(found.score)
    states = CHOICES + 1
    reward = np.full((frames, states), _NO_PITCH, dtype=np.float64)
    reward[:, :CHOICES] = np.where(found.score > 0, found.score, -1.0)
    midi = found.midi.astype(np.float64)
    back = np.zeros((frames, states), dtype=np.int8)
    if not frames:
        return np.zeros(0), np.zeros(0, dtype=np.float32)
    total = reward[0].copy()
    cost = np.full((states, states), _START)
    cost[CHOICES, CHOICES] = 0.0
    columns = np.arange(states)
    for k in range(1, frames):
        away = np.abs(midi[k][:, None] - midi[k - 1][None, :])
        cost[:CHOICES, :CHOICES] = np.where(away < _NEAR, _WANDER * away, _JUMP)
        ways = total[None, :] - cost
        chosen = ways.argmax(axis=1)
        back[k] = chosen
        total = ways[columns, chosen] + reward[k]
    path = np.empty(frames, dtype=np.int64)
    path[-1] = int(total.argmax())
    for k in range(frames - 1, 0, -1):
        path[k - 1] = back[k, path[k]]
    rows = np.arange(frames)
    voiced = path < CHOICES
    at = np.minimum(path, CHOICES - 1)
    return np.where(voiced, midi[rows, at], np.nan), np.where(
        voiced, found.score[rows, at], found.score[:, 0]
    ).astype(np.float32)
