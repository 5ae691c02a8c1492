"""The melody of a tune once through, and the same in even slots of time.

Public: `Line`, `line_of`, `line_from_places`, `slots`, `usual_unit`.

Strips (`melody`) hold what is new in the order of playing with some notes around it. Here what
was there before is left out again, so that a repeat written out and a repeat sign differ in
nothing but the length, and the time runs on without the holes that the repeats leave.

A slot is a short, even stretch of time, about as long as the tune's usual note. What sounds in it is
a vector of twelve, one for each pitch class, by how much of the slot each fills. Graces, a
roll written out, a note re-tongued or a dotted pair in place of an even one change little of
that.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import floor, log2

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.melody import MelodyNote

GAP = -10_000  # in place of a pitch, between strips (as `collection.GAP`)
SAMPLES = 4  # of a slot: a triplet and a dotted note still show
LONGEST = 4_096  # slots: whoever writes an hour of music into one tune gets its first part compared

Floats = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A melody once through. All arrays have shape (notes,).

    `midi`; `onset` and `length` in quarter notes; `bar` the printed number; `sections` the places
    where the playing came to something new after a repeat, from 0. `anchor`: onset of the first
    full bar.
    """

    midi: npt.NDArray[np.int16]
    onset: npt.NDArray[np.float64]
    length: npt.NDArray[np.float64]
    bar: npt.NDArray[np.int16]
    sections: tuple[int, ...]
    anchor: float

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
    count = len(midi)
    sounding = midi != GAP
    begins = np.ones(count, dtype=bool)  # a bar begins, or a strip
    begins[1:] = (bar[1:] != bar[:-1]) | ~sounding[:-1]
    begins &= sounding
    visit = np.cumsum(begins) - 1
    visited = bar[begins]
    # A strip may begin in the middle of a bar that comes again whole: only whole ones are new,
    # and those are seen first, but for what was before the first strip, which is nothing.
    _, first = np.unique(visited, return_index=True)
    fresh = np.zeros(len(visited), dtype=bool)
    fresh[first] = True
    kept = np.flatnonzero(sounding & fresh[np.clip(visit, 0, None)]) if count else np.zeros(0, int)
    beats, lengths = onset[kept].astype(np.float64), length[kept].astype(np.float64)
    joined = np.diff(kept) == 1
    steps = np.where(joined, np.diff(beats), lengths[:-1])
    times = np.concatenate(([0.0], np.cumsum(np.maximum(steps, 0.0))))[: len(kept)]
    bars = bar[kept].astype(np.int16)
    later = np.flatnonzero(bars != bars[0]) if len(bars) else []
    anchor = float(times[later[0]]) if len(later) else 0.0
    sections = (0, *(np.flatnonzero(~joined) + 1).tolist())
    return Line(midi[kept].astype(np.int16), times, lengths, bars, sections, anchor)


def usual_unit(line: Line) -> float:
    """About the tune's usual note, in quarter notes: a power of two."""
    if not len(line.midi) or line.end <= 0:
        return 0.5
    return float(2.0 ** floor(log2(line.end / len(line.midi)) + 0.5))


def first_slot(line: Line, unit: float) -> int:
    """Slots before the first full bar."""
    return int(np.ceil(line.anchor / unit - 1e-6))


def slots(line: Line, unit: float) -> Floats:
    """What sounds in each slot of `unit` quarter notes: shape (slots, 12), rows of length 1.

    The slots lie so that a full bar begins with one. A rest counts to the note before it.
    """
    if not len(line.midi):
        return np.zeros((0, 12), dtype=np.float32)
    before = first_slot(line, unit)
    start = line.anchor - before * unit
    count = min(LONGEST, max(1, int(np.ceil((line.end - start) / unit - 1e-6))))
    times = start + unit * (np.arange(count * SAMPLES) + 0.5) / SAMPLES
    place = np.maximum(np.searchsorted(line.onset, times, side="right") - 1, 0)
    classes = (line.midi[place] % 12).reshape(count, SAMPLES)
    found = _ONE_HOT[classes].sum(axis=1)
    return found / np.sqrt(np.square(found).sum(axis=1, keepdims=True))


def slot_at(line: Line, unit: float, onset: npt.NDArray[np.float64]) -> npt.NDArray[np.int64]:
    """In which slot a time lies (quarter notes)."""
    start = line.anchor - first_slot(line, unit) * unit
    return np.floor((onset - start) / unit + 1e-3).astype(np.int64)


_ONE_HOT = np.eye(12, dtype=np.float32)
