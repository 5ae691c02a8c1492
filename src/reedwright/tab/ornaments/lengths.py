"""How a note is split by a roll or a triplet, in lengths that can be written without ties.

Public: `long_roll_lengths`, `short_roll_lengths`, `triplet_lengths`.
"""

from __future__ import annotations

from fractions import Fraction

Lengths = tuple[Fraction, ...]


def long_roll_lengths(length: Fraction) -> Lengths | None:
    """Three parts: thirds of a dotted note, else a half and two quarters; None if none fit."""
    third = length / 3
    parts = (third,) * 3 if _writable(third) else (length / 2, length / 4, length / 4)
    return parts if all(map(_writable, parts)) else None


def short_roll_lengths(length: Fraction) -> Lengths | None:
    """Two parts: of a dotted note two thirds and a third, else halves; None if none fit."""
    third = length / 3
    parts = (2 * third, third) if _plain(third) else (length / 2, length / 2)
    return parts if all(map(_writable, parts)) else None


def triplet_lengths(length: Fraction) -> Lengths | None:
    """Three parts in the time of two notes of half the length; None if these cannot be written."""
    return (length / 3,) * 3 if _writable(length / 2) else None


def _plain(length: Fraction) -> bool:
    """A note without dots, such as a quaver."""
    return all(n & (n - 1) == 0 for n in (length.numerator, length.denominator))


def _writable(length: Fraction) -> bool:
    """A note plain or with one dot."""
    return _plain(length) or _plain(length / 3)
