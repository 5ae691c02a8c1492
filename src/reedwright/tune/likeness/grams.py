"""Short runs of intervals, by which tunes that may be settings of one tune are named.

Public: `grams`, `Grams`.

A run is seven notes of the line without its ornaments and re-tongued notes, as six intervals
modulo the octave: key, octave, note length, bar lines and graces do not matter to it. Runs that
one note more or less would break are taken as well over one note left out.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.once import Line, usual_unit

INTERVALS = 6
SHORT_SHARE = 0.45  # of the usual note: an ornament


class Grams(NamedTuple):
    """Runs of a line, sorted by their code; all arrays of shape (runs,).

    `codes` say the intervals; `onset`, where the run begins, and `span`, how long it takes, in
    quarter notes; `midi` is its first note.
    """

    codes: npt.NDArray[np.uint32]
    onset: npt.NDArray[np.float64]
    span: npt.NDArray[np.float64]
    midi: npt.NDArray[np.int64]


def grams(line: Line) -> Grams:
    """The runs of a line; none where it has too few notes."""
    kept = line.length >= SHORT_SHARE * usual_unit(line)
    midi = line.midi[kept].astype(np.int64)
    onset = line.onset[kept]
    if len(midi):
        new = np.ones(len(midi), dtype=bool)
        new[1:] = midi[1:] != midi[:-1]
        midi, onset = midi[new], onset[new]
    runs = len(midi) - INTERVALS
    if runs < 1:
        none = np.zeros(0)
        return Grams(none.astype(np.uint32), none, none, none.astype(np.int64))
    intervals = np.diff(midi) % 12
    codes = np.zeros(runs, dtype=np.uint32)
    for k in range(INTERVALS):
        codes = codes * np.uint32(12) + intervals[k : k + runs].astype(np.uint32)
    order = np.argsort(codes, kind="stable")
    span = onset[INTERVALS:] - onset[:runs]
    return Grams(codes[order], onset[:runs][order], span[order], midi[:runs][order])
