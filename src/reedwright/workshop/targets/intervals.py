"""Intervals of two tones: their names, and the small ratio that they are nearest to.

Two tones of ratio m : n have partials that meet: the m-th of the lower and the n-th of the
upper. Which ratio an interval is heard against is a matter of both nearness and simplicity: of
the ratios with no number above 16 and within half a semitone the one is taken with the least
log2(m n) + distance in cents / 12.5. That makes an equal-tempered third 5/4, a seventh of 969
cents 7/4 and one of 1000 cents 9/5. The weight is our own choice.

Public: `interval_name`, `nearest_partials`, `pure_cents`.
"""

from __future__ import annotations

from functools import lru_cache
from math import gcd, log2

MOST_PARTIAL = 16
_CENTS_A_DOUBLING = 12.5
_REACH = 50.0  # cents; a ratio further off belongs to another interval

_NAMES = (
    "unison",
    "minor second",
    "major second",
    "minor third",
    "major third",
    "fourth",
    "tritone",
    "fifth",
    "minor sixth",
    "major sixth",
    "minor seventh",
    "major seventh",
)
_BEYOND = {12: "octave", 13: "minor ninth", 14: "major ninth", 15: "minor tenth", 16: "major tenth"}


def interval_name(semitones: int) -> str:
    """`major third` for 4; beyond a tenth the name within the octave and how many octaves more."""
    if semitones in _BEYOND:
        return _BEYOND[semitones]
    octaves, within = divmod(semitones, 12)
    if not octaves:
        return _NAMES[within]
    if not within:
        return f"{octaves} octaves"
    return f"{_NAMES[within]} and {'an octave' if octaves == 1 else f'{octaves} octaves'}"


def pure_cents(partials: tuple[int, int]) -> float:
    """The size of an interval whose m-th and n-th partials meet: 1200 log2(m / n) cents."""
    return 1200 * log2(partials[0] / partials[1])


def nearest_partials(cents: float) -> tuple[int, int]:
    """The partials (m of the lower tone, n of the upper) by which an interval is judged.

    `cents` is its size, 0 or more; a little below 0 is a unison with the upper tone flat.
    """
    near = [each for each in _ratios() if abs(cents - pure_cents(each)) <= _REACH]
    if not near:  # between a unison and 16/15, or beyond four octaves
        return min(_ratios(), key=lambda each: abs(cents - pure_cents(each)))
    return min(
        near,
        key=lambda each: (
            log2(each[0] * each[1]) + abs(cents - pure_cents(each)) / _CENTS_A_DOUBLING
        ),
    )


@lru_cache(maxsize=1)
def _ratios() -> tuple[tuple[int, int], ...]:
    numbers = range(1, MOST_PARTIAL + 1)
    return tuple((m, n) for m in numbers for n in numbers if n <= m and gcd(m, n) == 1)
