"""Names of notes and keys: what a musician writes, as MIDI notes, and back.

Sharps and flats are read as `#` and `b` or as `♯` and `♭`. Octave 4 starts at
middle C (scientific pitch notation). Frequencies are in equal temperament.

Public: `parse_note`, `parse_key`, `spell`, `frequency`, `KEYS`.
"""

from __future__ import annotations

import re

from reedwright.errors import ReedwrightError
from reedwright.fifths import STEP_SEMITONES, fifths_of, octave_of, spelled_at

# The twelve keys as the trade prints them, from the lowest ordinary harp up (common practice).
KEYS = ("G", "Ab", "A", "Bb", "B", "C", "Db", "D", "Eb", "E", "F", "F#")

# ISO 16:1975: A4 is 440 Hz.
A4_MIDI = 69
A4_HZ = 440.0

_NOTE = re.compile(r"([A-Ga-g])(##|bb|[#b]?)(-?\d+)")
_KEY = re.compile(r"([A-Ga-g])([#b]?)\s*(m|min|minor|major)?")


class NoteNameError(ReedwrightError):
    """A note or key name that cannot be read."""


def parse_note(text: str) -> int:
    """`Bb3` -> 58. Raises `NoteNameError` on anything but a letter, accidentals and an octave."""
    match = _NOTE.fullmatch(_ascii(text))
    if match is None:
        raise NoteNameError(
            f"'{text}' is not a note name; write a letter, then # or b if need be, then the "
            "octave, such as G4, F#5 or Bb3 (C4 is middle C)"
        )
    step, sign, octave = match.groups()
    alter = len(sign) if "#" in sign else -len(sign)
    return 12 * (int(octave) + 1) + STEP_SEMITONES[step.upper()] + alter


def parse_key(text: str) -> str:
    """The key as the trade prints it: `C#` -> `Db`, `Gb` -> `F#`, `am` -> `A`.

    A minor tuning's key may carry its `m`. Raises `NoteNameError`.
    """
    match = _KEY.fullmatch(_ascii(text.strip()))
    if match is None:
        raise NoteNameError(
            f"'{text}' is not a key; use one of {', '.join(KEYS)} (C# for Db and so on will do)"
        )
    step, sign = match.group(1).upper(), match.group(2)
    alter = {"#": 1, "b": -1}.get(sign, 0)
    return KEYS[(STEP_SEMITONES[step] + alter - 7) % 12]


def key_pitch_class(key: str) -> int:
    """0 for C up to 11 for B, of a key's trade name."""
    return (KEYS.index(key) + 7) % 12


def spell(midi: int, home: str, octave: bool = True) -> str:
    """The note's name as a player in the key of `home` would write it: `Bb4`, `F#5`.

    Notes of the major scale keep the key's own spelling. The others are the flat
    second, third, sixth and seventh and the sharp fourth (common practice for
    charts), save where that would need a double sign or Cb, Fb, B# or E#.
    """
    tonic = fifths_of(home[0], home.count("#") - home[1:].count("b"))
    # Fifths above the tonic: -5 (flat second) to 6 (sharp fourth).
    steps = ((midi - key_pitch_class(home)) * 7) % 12
    diatonic = steps <= 5 or steps == 11
    above = tonic + (steps if steps <= 6 else steps - 12)
    if not diatonic:
        if above > 10:  # beyond A sharp
            above -= 12
        elif above < -6:  # beyond G flat
            above += 12
    step, alter = spelled_at(above)
    name = step + ("#" * alter if alter > 0 else "b" * -alter)
    if not octave:
        return name
    return f"{name}{octave_of(midi, step, alter)}"


def frequency(midi: float, a4: float = A4_HZ) -> float:
    """Hz of a MIDI note in equal temperament; A4 = 440 Hz is ISO 16."""
    return float(a4 * 2.0 ** ((midi - A4_MIDI) / 12.0))


def _ascii(text: str) -> str:
    return text.replace("♯", "#").replace("♭", "b").replace("𝄪", "##").replace("𝄫", "bb")
