"""Positions: how many fifths a tune's tonic lies above the tonic of first position, plus one.

The count is that of the circle of fifths (common practice). On a C harp G is
second, D third, F twelfth. The mode does not matter.
"""

from __future__ import annotations

from reedwright.harp.model import Harp

ORDINALS = (
    "first",
    "second",
    "third",
    "fourth",
    "fifth",
    "sixth",
    "seventh",
    "eighth",
    "ninth",
    "tenth",
    "eleventh",
    "twelfth",
)


def position(tonic_pitch_class: int, harp: Harp) -> int:
    """Position, 1 to 12, of a tonic (0 for C up to 11 for B) on a harp.

    First position is the key that the harp is named by, but on tunings named by another
    position (natural minor) it is the tonic that `Tuning.first_position` leads to.
    """
    # Seven is its own inverse modulo twelve: fifths = semitones * 7 mod 12.
    return ((tonic_pitch_class - harp.home_pitch_class) * 7) % 12 + 1


def position_name(number: int) -> str:
    """`second` for 2."""
    return ORDINALS[number - 1]
