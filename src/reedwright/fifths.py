"""The letter names of notes, and the line of fifths: ... Bb F C G D A E B F# C# ...

A place on the line is a whole number: C is 0, G 1, F -1, F sharp 6, B flat -2. It names
a spelled note whatever its octave. Signatures, modes and spellings all follow from it
(any theory primer).

Public: `STEPS`, `STEP_SEMITONES`, `SHARP_ORDER`, `MODE_FIFTHS`, `fifths_of`, `spelled_at`,
`octave_of`, `signature`, `mode_fifths`.
"""

from __future__ import annotations

STEPS = "CDEFGAB"
STEP_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SHARP_ORDER = "FCGDAEB"
"""The steps as they follow on the line, which is how sharps come into a signature."""

MODE_FIFTHS = {
    "lydian": 1,
    "major": 0,
    "mixolydian": -1,
    "dorian": -2,
    "minor": -3,
    "phrygian": -4,
    "locrian": -5,
}
"""How many fifths above the major key of the same tonic each mode's signature lies."""


def fifths_of(step: str, alter: int) -> int:
    """The place of a spelled note. `alter` is in semitones (-1 flat, 1 sharp)."""
    return SHARP_ORDER.index(step) - 1 + 7 * alter


def spelled_at(fifths: int) -> tuple[str, int]:
    """Step and alteration of the note at a place."""
    return SHARP_ORDER[(fifths + 1) % 7], (fifths + 1) // 7


def octave_of(midi: int, step: str, alter: int) -> int:
    """The octave of a MIDI note that is spelled so; octave 4 starts at middle C (60)."""
    return (midi - alter - STEP_SEMITONES[step]) // 12 - 1


def signature(fifths: int) -> tuple[int, int, int, int, int, int, int]:
    """Alterations of C, D, E, F, G, A, B in a signature of so many sharps (flats negative)."""
    alters = {step: (fifths + 6 - place) // 7 for place, step in enumerate(SHARP_ORDER)}
    c, d, e, f, g, a, b = (alters[step] for step in STEPS)
    return c, d, e, f, g, a, b


def mode_fifths(step: str, alter: int, mode: str) -> int:
    """Sharps (positive) or flats (negative) in the signature of a mode on a tonic."""
    return fifths_of(step, alter) + MODE_FIFTHS[mode]
