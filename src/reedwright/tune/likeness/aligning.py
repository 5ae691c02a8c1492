"""A query laid along windows of a collection at the least cost.

Public: `costs_of`, `Costs`, `window_costs`, `trace`, `Step`.

The cost is a weighted edit distance between all of the query and any part of a window
(approximate matching after P. Sellers, "The theory and computation of evolutionary
distances: pattern recognition", Journal of Algorithms 1, 1980). Pitches are compared modulo
the octave; octaves and rhythm are weighed afterwards (see `finding`). All windows are worked out at
once: a query's note is a step for every window, and notes of the tune left out within a step are
a running minimum.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.collection import GAP

WRONG = 1.0
WRONG_BY_SEMITONE = 0.8  # a bend that is out of tune, a note of the other mode
MISSED = 0.7
ADDED = 0.7
REPEATED = 0.4  # missed or added, but of the same pitch as the note before: re-tongued or not
SHORT = 0.3  # added, but so short that it is an ornament
SHORT_SHARE = 0.45  # of the usual note of the query
UNCROSSABLE = 1e3  # no part of a tune spans a gap

Floats = npt.NDArray[np.float32]
Ints = npt.NDArray[np.integer]


class Costs(NamedTuple):
    """What it costs to leave each note out of the query; shape (notes,)."""

    added: Floats


def costs_of(pitches: Sequence[int], spans: Sequence[float] | None) -> Costs:
    """Costs for whole MIDI notes; `spans` are times from onset to onset where known."""
    added = np.full(len(pitches), ADDED, dtype=np.float32)
    for k in range(1, len(pitches)):
        if pitches[k] == pitches[k - 1]:
            added[k] = REPEATED
    if spans is not None and len(spans):
        usual = float(np.median(np.asarray(spans)))
        added[np.asarray(spans) < SHORT_SHARE * usual] = SHORT
    return Costs(added)


def window_costs(pitches: Ints, costs: Costs, windows: Ints, shifts: Ints) -> Floats:
    """The table of least costs, of shape (windows, notes + 1, places + 1).

    `pitches` of shape (notes,) are whole MIDI notes; `windows` of shape (windows, places) hold
    the tunes' pitches or `GAP`; `shifts` of shape (windows,) are the semitones, modulo 12,
    that the tune lies above the query. Entry (w, i, j): the first i notes of the query against a
    part of the window that ends before its place j.
    """
    count, places = windows.shape
    leaving_out = _missed(windows)
    falling = np.zeros((count, places + 1), dtype=np.float32)
    np.cumsum(leaving_out, axis=1, out=falling[:, 1:])
    table = np.zeros((count, len(pitches) + 1, places + 1), dtype=np.float32)
    for i, pitch in enumerate(pitches.tolist()):
        row = table[:, i] + costs.added[i]
        taken = table[:, i, :-1] + _unlike(windows, pitch, shifts)
        np.minimum(row[:, 1:], taken, out=row[:, 1:])
        table[:, i + 1] = np.minimum.accumulate(row - falling, axis=1) + falling
    return table


def _missed(windows: Ints) -> Floats:
    """The cost of leaving each note of a tune out."""
    costs = np.full(windows.shape, MISSED, dtype=np.float32)
    costs[:, 1:][windows[:, 1:] == windows[:, :-1]] = REPEATED
    costs[windows == GAP] = UNCROSSABLE
    return costs


def _unlike(windows: Ints, pitch: int, shifts: Ints) -> Floats:
    """The cost of each note of a tune in place of `pitch`."""
    apart = windows - (pitch + shifts[:, None])
    costs: Floats = _BY_INTERVAL[apart % 12]
    costs[windows == GAP] = UNCROSSABLE
    return costs


_BY_INTERVAL = np.array([0.0, WRONG_BY_SEMITONE, *[WRONG] * 9, WRONG_BY_SEMITONE], dtype=np.float32)


def _unlike_one(written: int, pitch: int, shift: int) -> float:
    """As `_unlike`, for one note."""
    if written == GAP:
        return UNCROSSABLE
    apart = (written - pitch - shift) % 12
    return 0.0 if apart == 0 else WRONG_BY_SEMITONE if apart in (1, 11) else WRONG


class Step(Enum):
    """What happens on the way through a window."""

    SAME = "same"
    WRONG = "wrong"
    MISSED = "missed"
    ADDED = "added"


class Laid(NamedTuple):
    """One step: the note of the query and the place in the window, -1 where there is none."""

    step: Step
    note: int
    place: int


def trace(
    table: Floats, pitches: Ints, costs: Costs, window: Ints, shift: int, end: int | None = None
) -> list[Laid]:
    """The steps of the cheapest way through one window, in order.

    `table` of shape (notes + 1, places + 1), from `window_costs`. The way ends before the
    place `end`: the cheapest one, the first of several, unless given.
    """
    shown: list[int] = window.tolist()
    asked: list[int] = pitches.tolist()
    added: list[float] = costs.added.tolist()
    rows: list[list[float]] = table.tolist()
    i = len(asked)
    j = int(np.argmin(table[i])) if end is None else end
    steps: list[Laid] = []
    while i > 0:
        here = rows[i][j]
        unlike = _unlike_one(shown[j - 1], asked[i - 1], shift) if j > 0 else UNCROSSABLE
        if j > 0 and _equal(here, rows[i - 1][j - 1] + unlike):
            i, j = i - 1, j - 1
            steps.append(Laid(Step.SAME if unlike == 0 else Step.WRONG, i, j))
        elif j == 0 or _equal(here, rows[i - 1][j] + added[i - 1]):
            i -= 1
            steps.append(Laid(Step.ADDED, i, -1))
        else:
            j -= 1
            steps.append(Laid(Step.MISSED, -1, j))
    return steps[::-1]


def _equal(a: float, b: float) -> bool:
    return abs(a - b) < 1e-3
