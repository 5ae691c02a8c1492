"""What notes and moves cost, way by way: worked out once for every haste, kept for all tunes.

The very costs of `tab.effort`, for the ways of all layouts at once. One way more stands behind
the others: that of no way at all, which can never be taken.

Public: `CostBook`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from reedwright.player.profile import Weights
from reedwright.tab.costs import SECONDS_PER_MINUTE
from reedwright.tab.effort import MoveKind, Ways, haste, move_parts, note_parts
from reedwright.tab.solver import NEVER

Costs = NDArray[np.int64]

_MOST_KEPT = 1024  # tables of moves; up to some hundred kilobytes each


class CostBook:
    """The costs of one player. `never`: the number of the way that is none."""

    def __init__(self, weights: Weights, ways: Ways) -> None:
        self.weights = weights
        self._ways = ways
        self.never = len(ways.hole)
        self._notes: dict[float, Costs] = {}
        self._moves: dict[tuple[float, bool, bool], Costs] = {}

    def haste(self, quarters: float, tempo: float) -> float:
        """Haste of a time in quarter notes at a tempo in quarter notes a minute."""
        hurry: Any = haste(self.weights, quarters * (SECONDS_PER_MINUTE / tempo))
        return float(hurry)

    def notes(self, hurry: float) -> Costs:
        """A note of this haste by way, shape (ways + 1,)."""
        found = self._notes.get(hurry)
        if found is None:
            found = np.zeros(self.never + 1, np.int64)
            for _, part in note_parts(self.weights, self._ways, hurry):
                found[:-1] += part
            found[-1] = NEVER
            self._notes[hurry] = found
        return found

    def moves(self, hurry: float, rest: bool, slur: bool) -> Costs:
        """A move of this kind by its two ways, shape (ways + 1, ways + 1)."""
        key = (hurry, rest, slur)
        found = self._moves.get(key)
        if found is None:
            found = np.zeros((self.never + 1, self.never + 1), np.int64)
            one = self._ways.take(np.s_[:, None])
            two = self._ways.take(np.s_[None, :])
            for _, part in move_parts(self.weights, one, two, MoveKind(hurry, rest, slur)):
                found[:-1, :-1] += part
            if len(self._moves) >= _MOST_KEPT:
                self._moves.clear()
            self._moves[key] = found
        return found
