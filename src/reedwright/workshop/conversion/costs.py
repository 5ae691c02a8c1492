"""How hard reed work is: one number for each reed, to choose between stock harps by.

All figures are judgement after common practice, no source (docs/conversions.md). The unit is
about the work of raising a reed in the middle of the harp by a semitone once the harp is open.
Only their order and rough size matter: they choose a stock harp, they do not promise minutes.

What they say: a reed raised loses a little metal where it does not bend, at the free end; a reed
lowered by filing loses it where it bends most and may tire, and a weight takes heat or glue. A
long low reed takes a weight well, and a lot of metal to raise; a short high reed is moved too far
by one stroke, and has no room for a weight. The second semitone is harder than the first, as the
reed then stands otherwise in its slot and answers otherwise; the third harder still.

Public: `retune_cost`, `touch_cost`, `moving_cost`, `region_of`, `Region`, `hardness`, and the
constants.
"""

from __future__ import annotations

from enum import StrEnum

SWAP_OVER = 2.5
"""Semitones beyond which a reed is swapped, if a harp can be had that gives one: two, and what
a temperament may add."""
WARN_OVER = 2.25  # semitones, likewise, beyond which a swap is offered beside the retuning
CAREFUL_OVER = 1.25  # semitones, likewise, beyond which a word of care is given
LEEWAY = 0.5  # cents that no bound is strict about
LEAST_CHANGE = 0.5  # cents; less is no work: nobody measures or files finer

# Hz, each halfway between two notes, so that no temperament moves one over: 254 between B3 and
# middle C, 1077 between C6 and C#6.
LOW_BELOW = 254.0  # long reeds, on low harps with a weight already
HIGH_ABOVE = 1077.0  # short reeds

REED = 1.0  # any reed whose note changes: to reach it, let it settle, gap and finish it
TOUCH = 0.2  # a reed that keeps its note, beside the cents that it is moved
SECOND, THIRD = 1.5, 3.0  # times as hard: the second semitone, and all beyond

SWAP = 6.0  # to take a rivet or screw out twice, centre the reed, and the harp that gives it
SWAP_SEMITONES = 3.0  # what a swap counts as in a sum of semitones


# What is said of a reed by its effort: any semitone is easy but for a short reed lowered, a whole
# tone up takes care, one down in the middle is hard, and so is every swap.
EASY_TO = 2.35
CARE_TO = 4.0


class Region(StrEnum):
    """Where a reed lies by its pitch, which is by its length."""

    LOW = "low"
    MIDDLE = "middle"
    HIGH = "high"


# The first semitone.
RAISE = {Region.LOW: 1.2, Region.MIDDLE: 1.0, Region.HIGH: 1.3}
LOWER = {Region.LOW: 1.1, Region.MIDDLE: 1.25, Region.HIGH: 1.8}


def region_of(hz: float) -> Region:
    """Low, middle or high, of a reed's pitch in Hz."""
    if hz < LOW_BELOW:
        return Region.LOW
    return Region.HIGH if hz > HIGH_ABOVE else Region.MIDDLE


def moving_cost(cents: float, hz: float) -> float:
    """What moving a reed of this pitch costs by itself; 0 for 0 cents, and never less for more."""
    semitones = abs(cents) / 100
    first = min(semitones, 1.0)
    second = min(max(semitones - 1.0, 0.0), 1.0)
    third = max(semitones - 2.0, 0.0)
    rate = (RAISE if cents > 0 else LOWER)[region_of(hz)]
    return rate * (first + SECOND * second + THIRD * third)


def retune_cost(cents: float, hz: float) -> float:
    """A reed whose note changes by so many cents; `hz`: its pitch in the stock harp."""
    return REED + moving_cost(cents, hz)


def touch_cost(cents: float, hz: float) -> float:
    """A reed that keeps its note and is moved by so many cents."""
    return TOUCH + moving_cost(cents, hz)


def hardness(cost: float) -> str:
    """`easy`, `some care` or `hard`: one reed's cost in a word."""
    if cost <= EASY_TO:
        return "easy"
    return "some care" if cost <= CARE_TO else "hard"
