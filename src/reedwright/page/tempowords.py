"""Tempo marks in words: a note as a glyph would need a music font in the text layer.

Public: `tempo_words`.
"""

from __future__ import annotations

from fractions import Fraction

from reedwright.tab.words import length_words
from reedwright.tune.model import Tempo


def tempo_words(tempo: Tempo, quarters: float | None = None, speed: Fraction = Fraction(1)) -> str:
    """`minim = 96`, with the mark's own words. `quarters`: other quarter notes a minute;
    `speed`: a factor instead."""
    bpm = tempo.bpm if quarters is None else Fraction(quarters) / tempo.beat
    if bpm is None:
        return tempo.text
    asked = quarters is not None or speed != 1
    number = round(bpm * speed) if asked else float(bpm)
    mark = f"{length_words(tempo.beat)} = {number:g}"
    return f"{tempo.text}, {mark}" if tempo.text else mark
