"""Intervals of two tones: their names, and the small ratio that they are nearest to.

Two tones of ratio m : n have partials that meet: the m-th of the lower and the n-th of the
upper. Which ratio an interval is heard against is a matter of both nearness and simplicity: of
the ratios with no number above 16 and within half a semitone the one is taken with the least
log2(m n) + distance in cents / 12.5. That makes an equal-tempered third 5/4, a seventh of 969
cents 7/4 and one of 1000 cents 9/5. The weight is our own choice.

A ratio of the primes 2, 3, 5 and 7 that is met within a cent goes before any weighing: a seventh of
two pure fourths, 996 cents, is 16/9 and not a 7/4 that is missed by 27. Of semitones, which have
nothing simple near them, 21/20, 25/24, 27/25 and 28/27 count too. Ratios a comma from a simple one
(32/27, 27/20, 40/27, 27/16, 45/32) do not: their partials are too high and weak to be heard, while
those of 6/5, 4/3, 3/2, 5/3 and 7/5 beat aloud.

Public: `interval_name`, `nearest_partials`, `pure_cents`.
"""

from __future__ import annotations

from functools import lru_cache
from math import gcd, log2

MOST_PARTIAL = 16
_CENTS_A_DOUBLING = 12.5
_MET = 1.0  # cents within which a ratio counts as meant; our own choice
_MET_PRIMES = (2, 3, 5, 7)
MET_SEMITONES = ((21, 20), (25, 24), (27, 25), (28, 27))
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
    met = [each for each in _meant() if abs(cents - pure_cents(each)) <= _MET]
    if met:
        return min(met, key=lambda each: each[0] * each[1])
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


@lru_cache(maxsize=1)
def _meant() -> tuple[tuple[int, int], ...]:
    """The ratios that go before all others where they are met."""
    return (*(each for each in _ratios() if all(map(_of_small_primes, each))), *MET_SEMITONES)


def _of_small_primes(number: int) -> bool:
    for prime in _MET_PRIMES:
        while number % prime == 0:
            number //= prime
    return number == 1
