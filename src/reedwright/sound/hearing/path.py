"""The likeliest course of pitch through the candidates of all frames (Viterbi's method).

Public: `follow_pitch`.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.gathering import spans
from reedwright.sound.hearing.model import Array32
from reedwright.sound.hearing.salience import CHOICES, Candidates

Array64 = npt.NDArray[np.float64]

# Costs, in the unit of a candidate's score in one frame; tuned on takes that are not measured.
_NO_PITCH = 0.34  # a frame with nothing better than this score is taken for no pitch
_JUMP = 0.5  # to leave a pitch for another
_START = 0.35  # to begin or to stop
_NEAR = 0.4  # semitones: within this the pitch has only wandered, as in a bend
_WANDER = 0.25  # for each semitone wandered


_BATCH = 4_000  # frames whose costs are laid out at once


def follow_pitch(found: Candidates) -> tuple[Array64, Array32]:
    """MIDI pitch (nan for none) and the score of each frame."""
    frames = len(found.score)
    if not frames:
        return np.zeros(0), np.zeros(0, dtype=np.float32)
    path = _best_path(found)
    rows = np.arange(frames)
    voiced = path < CHOICES
    at = np.minimum(path, CHOICES - 1)
    midi = np.where(voiced, found.midi[rows, at].astype(np.float64), np.nan)
    score: Array32 = np.where(voiced, found.score[rows, at], found.score[:, 0])
    return midi, score


def _best_path(found: Candidates) -> npt.NDArray[np.int64]:
    """The candidate taken in each frame, CHOICES for no pitch."""
    frames = len(found.score)
    back = np.zeros((frames, CHOICES + 1), dtype=np.int8)
    columns = np.arange(CHOICES + 1)
    total = _rewards(found, 0, 1)[0]
    for low, high in spans(frames - 1, _BATCH):
        costs, rewards = _costs(found, low, high), _rewards(found, low + 1, high + 1)
        for k, (cost, reward) in enumerate(zip(costs, rewards, strict=True), start=low + 1):
            ways = total - cost
            chosen = ways.argmax(axis=1)
            back[k] = chosen
            total = ways[columns, chosen] + reward
    path = np.empty(frames, dtype=np.int64)
    path[-1] = int(total.argmax())
    for k in range(frames - 1, 0, -1):
        path[k - 1] = back[k, path[k]]
    return path


def _rewards(found: Candidates, low: int, high: int) -> Array64:
    """What being in each state earns, in frames `low` to before `high`."""
    rewards = np.full((high - low, CHOICES + 1), _NO_PITCH)
    score = found.score[low:high]
    rewards[:, :CHOICES] = np.where(score > 0, score, -1.0)
    return rewards


def _costs(found: Candidates, low: int, high: int) -> Array64:
    """Of going into each state (middle axis) from each (last), out of frames `low` to `high`."""
    costs = np.full((high - low, CHOICES + 1, CHOICES + 1), _START)
    costs[:, CHOICES, CHOICES] = 0.0
    before = found.midi[low:high].astype(np.float64)
    after = found.midi[low + 1 : high + 1].astype(np.float64)
    away = np.abs(after[:, :, None] - before[:, None, :])
    costs[:, :CHOICES, :CHOICES] = np.where(away < _NEAR, _WANDER * away, _JUMP)
    return costs
