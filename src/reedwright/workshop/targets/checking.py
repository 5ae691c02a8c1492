"""Whether wishes can be met: pitch, pressure, stretch. Every door to targets goes through here."""

from __future__ import annotations

from math import isfinite

from reedwright.errors import ReedwrightError
from reedwright.workshop.targets.model import HIGHEST_A4, LOWEST_A4, TargetWishes

# Cents by which reeds sound flatter when played than at the bench; beyond the last it is no longer
# pressure but a leak or a reed that is choked. Common practice, no source.
USUAL_PRESSURE = (2.0, 6.0)
MOST_PRESSURE = 30.0
# Cents an octave. Pianos are stretched by one or two in the middle (textbooks, from memory);
# reeds are nearly free of inharmonicity, so little is called for.
MOST_STRETCH = 12.0


class TargetError(ReedwrightError):
    """Targets that cannot be met, or make no sense."""


def check_wishes(wishes: TargetWishes) -> None:
    """Raises `TargetError` with what is wrong, why, and what to give instead."""
    low, high = USUAL_PRESSURE
    if not LOWEST_A4 <= wishes.a4 <= HIGHEST_A4:
        raise TargetError(
            f"A4 of {wishes.a4:g} Hz is outside {LOWEST_A4:g} to {HIGHEST_A4:g} Hz, in which harps "
            "are tuned: one further off fits no other instrument, and every reed would have to be "
            "moved far. ISO 16 is 440; 442 or 443 is usual where reeds are to sound 440 when played"
        )
    if not isfinite(wishes.pressure) or not 0 <= wishes.pressure <= MOST_PRESSURE:
        raise TargetError(
            f"an offset of {wishes.pressure:g} cents for playing pressure makes no sense: give by "
            f"how many cents reeds sound flatter when played than at the bench, 0 to "
            f"{MOST_PRESSURE:g}; {low:g} to {high:g} is common"
        )
    if not isfinite(wishes.stretch) or abs(wishes.stretch) > MOST_STRETCH:
        raise TargetError(
            f"a stretch of {wishes.stretch:g} cents an octave is too much; give "
            f"{-MOST_STRETCH:g} to {MOST_STRETCH:g}, 0 for pure octaves"
        )
