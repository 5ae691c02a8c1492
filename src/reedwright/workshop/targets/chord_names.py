"""What a chord is called by the semitones of its notes above the root (common names).

Thirds and fifths make the triad; sixth, seventh and ninth are told beside it. One namer serves the
chord of a whole breath and that of three neighbouring holes.

Public: `chord_kind`, `triad_kind`.
"""

from __future__ import annotations

from collections.abc import Collection

_MINOR_THIRD, _MAJOR_THIRD = 3, 4  # semitones above the root, as all below
_FLAT_FIFTH, _FIFTH, _SHARP_FIFTH = 6, 7, 8
_NINTH, _SIXTH, _SEVENTH, _MAJOR_SEVENTH = 2, 9, 10, 11

_TRIADS = {
    frozenset({0, _MAJOR_THIRD, _FIFTH}): "major",
    frozenset({0, _MINOR_THIRD, _FIFTH}): "minor",
    frozenset({0, _MINOR_THIRD, _FLAT_FIFTH}): "diminished",
    frozenset({0, _MAJOR_THIRD, _SHARP_FIFTH}): "augmented",
}


def triad_kind(above: Collection[int]) -> str:
    """`major` for 0, 4 and 7 semitones in any octaves; nothing where they are no triad."""
    return _TRIADS.get(frozenset(semitones % 12 for semitones in above), "")


def chord_kind(above: Collection[int]) -> str:
    """`minor ninth`, `half-diminished seventh`: the chord of these semitones above its root.

    A chord without a third is `open`; of two thirds the major counts. A fifth that is missing is
    taken for a pure one; a flat or sharp one counts where there is no pure one beside it.
    """
    has = {semitones % 12 for semitones in above}
    base = _base(has)
    top = "ninth" if _NINTH in has else "seventh"
    also = " with ninth" if _NINTH in has else ""
    if base == "diminished" and _SEVENTH in has:
        return f"half-diminished {top}"
    if base == "diminished" and _SIXTH in has and _MAJOR_SEVENTH not in has:
        return f"diminished seventh{also}"  # nine semitones are a seventh, a step below the minor
    mild = "" if base == "major" else f"{base} "
    if _SEVENTH in has:
        return mild + top
    if _MAJOR_SEVENTH in has:
        return f"{mild}major {top}"
    if _SIXTH in has and base == "augmented":
        return "augmented with sixth" + (" and ninth" if also else "")
    if _SIXTH in has:
        return f"{base} sixth" + (" and ninth" if also else "")
    return base + also


def _base(has: set[int]) -> str:
    if _MAJOR_THIRD in has:
        sharp = _SHARP_FIFTH in has and _FIFTH not in has
        return "augmented" if sharp else "major"
    if _MINOR_THIRD in has:
        flat = _FLAT_FIFTH in has and _FIFTH not in has
        return "diminished" if flat else "minor"
    return "open"
