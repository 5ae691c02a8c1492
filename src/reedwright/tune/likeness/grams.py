"""Short runs of intervals, by which tunes that may be settings of one tune are known.

Public: `grams`, `Grams`, `CODES`.

Each run has six notes, taken as five intervals modulo the octave: key, octave, note length, bar
lines and graces do not matter to it. Three kinds of run begin at every note of the line:

- notes in a row, without ornaments and re-tongued notes;
- what sounds beat by beat (two or three usual notes, by the length of the bars), so that notes
  between the beats do not matter;
- what sounds at every other beat.

The skeleton that beats make of a melody is what variants of folk tunes keep the longest (common
practice in the study of tune families, no source).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.once import Line

INTERVALS = 5
SHORT_SHARE = 0.45  # of the usual note: an ornament
_LATE = 0.05  # of the usual note: a beat is listened to just after it begins
_THREES = (3, 6, 9, 12, 18, 24)  # usual notes in a bar whose beats have three
_SIZE = 12**INTERVALS
CODES = 2 * _SIZE
"""All codes are below that."""


class Grams(NamedTuple):
    """Runs of a line, sorted by their code; all arrays of shape (runs,).

    `codes` say kind and intervals; `onset`, where the run begins, and `span`, how long it takes, in
    quarter notes; `midi` is its first note.
    """

    codes: npt.NDArray[np.uint32]
    onset: npt.NDArray[np.floating]
    span: npt.NDArray[np.floating]
    midi: npt.NDArray[np.integer]


def grams(line: Line, unit: float) -> Grams:
    """The runs of a line whose usual note is `unit`; none where it has too few notes."""
    kept = line.length >= SHORT_SHARE * unit
    midi, onset = line.midi[kept].astype(np.int64), line.onset[kept]
    if len(midi):
        new = np.ones(len(midi), dtype=bool)
        new[1:] = midi[1:] != midi[:-1]
        midi, onset = midi[new], onset[new]
    beat = _beat(line, unit)
    # Rows of six pitches: notes in a row, beats in a row, every other beat. The two kinds of beats
    # share their codes: where usual notes were told apart by a doubling, they still meet.
    runs = max(0, len(midi) - INTERVALS)
    rows = [np.lib.stride_tricks.sliding_window_view(midi, INTERVALS + 1)] if runs else []
    onsets, spans = [onset[:runs]], [onset[INTERVALS:][:runs] - onset[:runs]]
    for step in (beat, 2 * beat):
        begin = onset[onset + INTERVALS * step < line.end]
        times = begin[:, None] + step * np.arange(INTERVALS + 1) + _LATE * unit
        rows.append(
            line.midi[np.searchsorted(line.onset, times, side="right") - 1].astype(np.int64)
        )
        onsets.append(begin)
        spans.append(np.full(len(begin), INTERVALS * step))
    pitches = np.concatenate(rows)
    intervals = np.diff(pitches, axis=1) % 12
    codes = intervals @ (12 ** np.arange(INTERVALS)[::-1])
    codes[runs:] += _SIZE
    # What only stays where it is tells nothing.
    telling = np.flatnonzero((intervals != 0).sum(axis=1) >= 2)
    order = telling[np.argsort(codes[telling], kind="stable")]
    return Grams(
        codes[order].astype(np.uint32),
        np.concatenate(onsets)[order],
        np.concatenate(spans)[order],
        pitches[order, 0],
    )


def _beat(line: Line, unit: float) -> float:
    """Two or three usual notes, in quarter notes."""
    begins = np.ones(len(line.bar), dtype=bool)
    begins[1:] = line.bar[1:] != line.bar[:-1]
    bars = np.diff(line.onset[begins])
    bar = round(float(np.median(bars)) / unit) if len(bars) else 0
    return unit * (3 if bar in _THREES else 2)
