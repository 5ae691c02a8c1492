"""Melodies as bytes, as table `fact` keeps them in its column `melody`.

The layout is that of the arrays of `reedwright.tune.likeness.collection.Collection`, place by
place. A place is 12 bytes, little-endian: pitch (int16), printed bar (int16), onset (float32),
length (float32); a note of a strip is one place, and after each strip comes one with pitch `GAP`
and zeros. So the melodies of many tunes, one after the other, are one array of
`PLACE` that needs no loop to be read:

    places = np.frombuffer(b"".join(melodies), dtype=PLACE)
    midi, onset = places["midi"], places["onset"]

and a tune begins at place `sum(len(m) // PLACE.itemsize for m in those before)`.

Public: `PLACE`, `packed`, `unpacked`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reedwright.tune.likeness.collection import GAP
from reedwright.tune.likeness.melody import MelodyNote

PLACE = np.dtype([("midi", "<i2"), ("bar", "<i2"), ("onset", "<f4"), ("length", "<f4")])
_GAP = (GAP, 0, 0.0, 0.0)
_LARGEST = 2**15 - 1


def packed(melody: Sequence[Sequence[MelodyNote]]) -> bytes:
    """The strips as bytes; none for a tune without notes.

    Onsets and lengths are rounded to 32-bit floats, bar numbers beyond int16 are cut to it.
    """
    places: list[tuple[int, int, float, float]] = []
    for strip in melody:
        places += [
            (note.midi, max(-_LARGEST, min(_LARGEST, note.bar)), note.onset, note.length)
            for note in strip
        ]
        places.append(_GAP)
    return np.array(places, dtype=PLACE).tobytes()


def unpacked(content: bytes) -> tuple[tuple[MelodyNote, ...], ...]:
    """The strips of `packed`."""
    strips: list[tuple[MelodyNote, ...]] = []
    strip: list[MelodyNote] = []
    for midi, bar, onset, length in np.frombuffer(content, dtype=PLACE).tolist():
        if midi == GAP:
            strips.append(tuple(strip))
            strip = []
        else:
            strip.append(MelodyNote(midi, onset, length, bar))
    return tuple(strips)
