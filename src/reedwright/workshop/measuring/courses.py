"""How likely each reed is for each tone of a row, when the moves from reed to reed are known.

The model is a hidden Markov chain (Rabiner 1989, A tutorial on hidden Markov models): a state is
the reed that was sounded last, and tones that are no reed's leave it where it is. Many orders (S)
and many readings of the tones (H) run at once.

`moves` are of shape (S, M + 1, M), or (T, S, M + 1, M) with a time of its own for each tone: what
follows what, the last row is the start. `tones` are of shape (H, T, M) or (T, M): the density of
each tone's pitch under each state; `stray` that of a tone which is no reed's.

Public: `evidences`, `likely_states`, `STRAY`.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

STRAY = 0.02  # how likely a tone is no reed's, beforehand (from memory)


def evidences(moves: Array, tones: Array, stray: float) -> Array:
    """The logarithm of the likelihood of each reading (H, T, M) along each order: shape (S, H)."""
    steps = moves if moves.ndim == 4 else moves[None]
    now = _nothing_yet(steps, tones.shape[0])
    found = np.zeros(now.shape[:2])
    for t in range(tones.shape[1]):
        sounded = (now @ _step(steps, t)) * tones[:, t] * (1 - STRAY)
        now = now * (stray * STRAY)
        now[:, :, :-1] += sounded
        scale = now.sum(axis=2, keepdims=True)
        now /= scale
        found += np.log(scale[:, :, 0])
    return found


def likely_states(moves: Array, tones: Array, stray: float) -> Array:
    """How likely each state sounds each tone of one reading (T, M), along each order: (S, T, M).

    What a tone's sum lacks of 1 is how likely it is no reed's.
    """
    steps = moves if moves.ndim == 4 else moves[None]
    number, states = tones.shape
    now = _nothing_yet(steps, 1)
    sounded = np.zeros((number, now.shape[0], 1, states))
    scales = np.zeros((number, now.shape[0], 1, 1))
    for t in range(number):
        sounded[t] = (now @ _step(steps, t)) * tones[t] * (1 - STRAY)
        now = now * (stray * STRAY)
        now[:, :, :-1] += sounded[t]
        scales[t] = now.sum(axis=2, keepdims=True)
        now /= scales[t]
    found = np.zeros((now.shape[0], number, states))
    ahead = np.ones_like(now)
    for t in range(number - 1, -1, -1):
        found[:, t] = (sounded[t] * ahead[:, :, :-1] / scales[t])[:, 0]
        come = (tones[t] * (1 - STRAY) * ahead[:, :, :-1]) @ np.swapaxes(_step(steps, t), 1, 2)
        ahead = (come + ahead * (stray * STRAY)) / scales[t]
    return found


def _nothing_yet(steps: Array, readings: int) -> Array:
    """The chain before the first tone: the last of its states is that nothing was sounded."""
    now = np.zeros((steps.shape[1], readings, steps.shape[3] + 1))
    now[:, :, -1] = 1.0
    return now


def _step(steps: Array, t: int) -> Array:
    step: Array = steps[t if len(steps) > 1 else 0]
    return step
