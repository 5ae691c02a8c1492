"""Lengths as note types: which printed notes, tied, make up a length.

All lengths are in quarter notes.
"""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

from reedwright.tune.model import Tuplet

# Longest first, as MusicXML names them; lengths in quarter notes.
NOTE_TYPES: tuple[tuple[str, Fraction], ...] = (
    ("maxima", Fraction(32)),
    ("long", Fraction(16)),
    ("breve", Fraction(8)),
    ("whole", Fraction(4)),
    ("half", Fraction(2)),
    ("quarter", Fraction(1)),
    ("eighth", Fraction(1, 2)),
    ("16th", Fraction(1, 4)),
    ("32nd", Fraction(1, 8)),
    ("64th", Fraction(1, 16)),
    ("128th", Fraction(1, 32)),
    ("256th", Fraction(1, 64)),
    ("512th", Fraction(1, 128)),
    ("1024th", Fraction(1, 256)),
)
MOST_DOTS = 2  # three dots and more are hard to read; such lengths are tied instead

_FLAGS = {name: max(0, index - 5) for index, (name, _) in enumerate(NOTE_TYPES)}


class Printed(NamedTuple):
    """One printed note or rest: its type and dots, what it sounds, and its time modification."""

    type: str
    dots: int
    length: Fraction
    actual: int = 1
    normal: int = 1

    @property
    def flags(self) -> int:
        """1 for a quaver, 2 for a semiquaver."""
        return _FLAGS[self.type]

    @property
    def modified(self) -> bool:
        return self.actual != self.normal


def _dotted_lengths() -> dict[Fraction, tuple[str, int]]:
    found: dict[Fraction, tuple[str, int]] = {}
    for name, plain in NOTE_TYPES:
        for dots in range(MOST_DOTS + 1):
            found.setdefault(plain * (2 - Fraction(1, 2**dots)), (name, dots))
    return found


_DOTTED = _dotted_lengths()
_DESCENDING = sorted(_DOTTED, reverse=True)


def printed_notes(length: Fraction, tuplet: Tuplet | None = None) -> tuple[Printed, ...]:
    """The notes, to be tied, that show this sounding length.

    Where no tuplet is given but the length needs one (a third of a crotchet,
    as MIDI files may hold), the time modification is made from its denominator.
    """
    if tuplet is None:
        return _printed(length, *_implied(length))
    return _printed(length, tuplet.actual, tuplet.normal)


@lru_cache(maxsize=1024)
def _printed(length: Fraction, actual: int, normal: int) -> tuple[Printed, ...]:
    written = length * actual / normal
    pieces = []
    while written > 0:
        fit = next((one for one in _DESCENDING if one <= written), None)
        if fit is None:  # shorter than any note: keep the sum right with the shortest type
            pieces.append(Printed(NOTE_TYPES[-1][0], 0, written * normal / actual, actual, normal))
            break
        name, dots = _DOTTED[fit]
        pieces.append(Printed(name, dots, fit * normal / actual, actual, normal))
        written -= fit
    return tuple(pieces)


def _implied(length: Fraction) -> tuple[int, int]:
    """`actual` and `normal` for a length whose denominator is no power of two."""
    odd = length.denominator
    while odd % 2 == 0:
        odd //= 2
    return odd, 1 << (odd.bit_length() - 1)
