"""The spelling of a pitch that has none, such as a MIDI note, in a key.

Public: `spelled`.
"""

from __future__ import annotations

from reedwright.fifths import octave_of, spelled_at
from reedwright.tune.model import Key, Pitch


def spelled(midi: int, key: Key) -> Pitch:
    """The spelling of a MIDI note in a key: three flats' to eight sharps' reach from its major.

    In C major: Eb and Bb, but F#, C# and G# (common practice, no source).
    """
    lowest = key.fifths - 3
    fifth = (midi * 7 - lowest) % 12 + lowest  # C is 0, G is 1, F is -1
    step, alter = spelled_at(fifth)
    return Pitch(step, alter, octave_of(midi, step, alter))
