"""The melody of a tune once through, and the same in even slots of time.

Public: `Line`, `line_of`, `line_from_places`, `usual_unit`, `Heard`, `heard`, `SAMPLES`.

Strips (`melody`) hold what is new in the order of playing with some notes around it. Here what
was there before is left out again, so that a repeat written out and a repeat sign differ in
nothing but the length, and the time runs on without the holes that the repeats leave.

A slot is a short, even stretch of time, about as long as the tune's usual note. What sounds in
it is a vector of twelve, one for each pitch class, by how much of the slot each fills. Graces, a
roll written out, a note re-tongued or a dotted pair in place of an even one change little of
that. Slots may begin at any quarter of a slot, so that an upbeat more or less does not matter.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, floor

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.melody import MelodyNote

GAP = -10_000  # in place of a pitch, between strips (as `collection.GAP`)
SAMPLES = 4  # of a slot: a triplet and a dotted note still show
MOST_SLOTS = 2_048  # about half an hour of music; what is longer is compared by its beginning
# The usual note of dance tunes is spread least between these two (measured on the 1780 to 1880
# collections that music21 ships); there the choice between a unit and twice as long is made.
_ROUNDING = 0.2  # doublings

Floats = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A melody once through. All arrays have shape (notes,).

    `midi`; `onset` and `length` in quarter notes, from 0; `bar` the printed number.
    """

    midi: npt.NDArray[np.int16]
    onset: npt.NDArray[np.float64]
    length: npt.NDArray[np.float64]
    bar: npt.NDArray[np.int16]

    @property
    def end(self) -> float:
        """Quarter notes in all."""
        return float(self.onset[-1] + self.length[-1]) if len(self.midi) else 0.0


def line_of(melody: Sequence[Sequence[MelodyNote]]) -> Line:
    """The line of a tune's strips."""
    notes: list[tuple[float, float, float, float]] = []
    for strip in melody:
        notes.extend(strip)
        notes.append((GAP, 0.0, 0.0, 0))
    flat = np.array(notes, dtype=np.float64).reshape(-1, 4)
    return line_from_places(flat[:, 0], flat[:, 1], flat[:, 2], flat[:, 3])


def line_from_places(
    midi: npt.NDArray[np.number],
    onset: npt.NDArray[np.number],
    length: npt.NDArray[np.number],
    bar: npt.NDArray[np.number],
) -> Line:
    """The line of one tune's places, as they lie in a `Collection`: a `GAP` after each strip."""
    sounding = midi != GAP
    begins = np.ones(len(midi), dtype=bool)  # a bar begins, or a strip
    begins[1:] = (bar[1:] != bar[:-1]) | ~sounding[:-1]
    begins &= sounding
    # A strip may begin within a bar that was there before; a new bar is always whole.
    _, first = np.unique(bar[begins], return_index=True)
    new = np.zeros(int(begins.sum()) + 1, dtype=bool)
    new[first + 1] = True
    kept = np.flatnonzero(sounding & new[np.cumsum(begins)])
    beats, lengths = onset[kept].astype(np.float64), length[kept].astype(np.float64)
    steps = np.where(np.diff(kept) == 1, np.diff(beats), lengths[:-1])
    times = np.concatenate(([0.0], np.cumsum(np.maximum(steps, 0.0))))[: len(kept)]
    return Line(midi[kept].astype(np.int16), times, lengths, bar[kept].astype(np.int16))


def usual_unit(line: Line) -> float:
    """About the tune's usual note, in quarter notes, as a power of two: the geometric mean of the
    lengths, each counted by its time, so that short ornaments count for little."""
    lengths = line.length[line.length > 0]
    if not len(lengths):
        return 0.5
    usual = float((lengths * np.log2(lengths)).sum() / lengths.sum())
    return 2.0 ** floor(usual + _ROUNDING)


@dataclass(frozen=True, slots=True, eq=False)
class Heard:
    """A line in slots of `unit` quarter notes. Row k of both is the slot that begins at `k`
    quarters of a slot; rows of `sounding`, of shape (samples, 12), have length 1. `moving`, of
    shape (samples,), says whether a note of another pitch begins in the slot."""

    unit: float
    sounding: Floats
    moving: npt.NDArray[np.bool_]


def heard(line: Line, unit: float) -> Heard:
    """A line in slots. A rest counts to the note before it."""
    count = min(MOST_SLOTS, ceil(line.end / unit - 1e-6)) * SAMPLES
    if count < 1:
        return Heard(unit, np.zeros((0, 12), dtype=np.float32), np.zeros(0, dtype=bool))
    times = unit / SAMPLES * (np.arange(count + SAMPLES - 1) + 0.5)
    place = np.maximum(np.searchsorted(line.onset, times, side="right") - 1, 0)
    midi = line.midi[place]
    moves = np.ones(len(midi) + 1, dtype=np.int32)
    moves[0] = 0
    moves[2:] = midi[1:] != midi[:-1]
    moved = np.cumsum(moves)
    each = _ONE_HOT[midi % 12]
    found = each[:count].copy()
    for k in range(1, SAMPLES):
        found += each[k : count + k]
    found /= np.sqrt(np.einsum("nk,nk->n", found, found))[:, None]
    return Heard(unit, found, moved[SAMPLES:] > moved[:count])


_ONE_HOT = np.eye(12, dtype=np.float32)
