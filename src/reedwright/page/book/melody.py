"""How a melody begins, for the index of first notes.

Steps of the scale are counted from the tonic, 1 to 7, so a tune is found whatever key it was
heard in. An upbeat is left out, which players change freely, and so are graces; a tied note counts
once, and one that is struck again counts again.

Public: `Beginning`, `beginning`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.fifths import STEPS
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.model import Bar

MOST_NOTES = 12
OCTAVE_UP, OCTAVE_DOWN = "'", ","


class Beginning(NamedTuple):
    """`text`: steps of the scale, bars parted by strokes, `'` for the octave above the lowest tonic
    at or below the first note, `,` for the one below. `order`: what melodies are sorted by."""

    text: str
    order: tuple[int, ...]


def beginning(arrangement: Arrangement) -> Beginning:
    """Of the first full bars, twelve notes at most. Empty for a tune without notes."""
    tune = arrangement.tune
    bars = tune.voices[arrangement.voice].bars if tune.voices else ()
    tonic = tune.key.tonic if tune.key.mode != "none" else "C"
    words: list[list[str]] = []
    order: list[int] = []
    base = None
    tied = False
    for bar in _full(bars):
        words.append([])
        for note in bar.notes:
            continued, tied = tied, note.tied
            if continued or len(order) == MOST_NOTES:
                continue
            height = 7 * note.pitch.octave + STEPS.index(note.pitch.step)
            step = height - STEPS.index(tonic[0])
            if base is None:
                base = step // 7
            octave = step // 7 - base
            mark = OCTAVE_UP * octave if octave > 0 else OCTAVE_DOWN * -octave
            words[-1].append(f"{step % 7 + 1}{mark}")
            order.append(step - 7 * base)
        if len(order) == MOST_NOTES:
            break
    return Beginning(" | ".join("".join(bar) for bar in words if bar), tuple(order))


def _full(bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    """From the first bar with a number on, or all where none has."""
    first = next((place for place, bar in enumerate(bars) if bar.number and bar.notes), 0)
    return bars[first:]
