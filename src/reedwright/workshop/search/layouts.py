"""Which layouts there are to try: the base tuning, every change of one reed, every pair.

Public: `all_layouts`, `free_reeds`, `changes_of`, `reed_midi`.
"""

from __future__ import annotations

from itertools import combinations, product

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Breath, Reed, Tuning
from reedwright.harp.tunings import HIGHEST_REED, LOWEST_REED
from reedwright.workshop.search.model import Change, Layout, SearchWishes

MOST_LISTED = 2
"""Reeds changed. Three at once make some hundred thousand layouts; they are not all listed."""


def all_layouts(wishes: SearchWishes) -> tuple[Layout, ...]:
    """The unchanged layout, then every change of one reed, then every pair of two reeds.

    By hole, blow before draw, and from down to up. Raises `ReedwrightError` where more
    than two reeds are asked for: the caller must then choose layouts of its own.
    Layouts that are the same tuning in another key are all there.
    """
    if not 0 <= wishes.reeds <= MOST_LISTED:
        raise ReedwrightError(
            f"every layout of {wishes.reeds} changed reeds cannot be listed; ask for one or two"
        )
    reeds = free_reeds(wishes)
    found: list[Layout] = []
    for count in range(wishes.reeds + 1):
        for chosen in combinations(reeds, count):
            found += product(*(changes_of(wishes, reed) for reed in chosen))
    return tuple(found)


def free_reeds(wishes: SearchWishes) -> tuple[Reed, ...]:
    """The reeds that may be changed, by hole, blow before draw."""
    every = (Reed(hole, breath) for hole in range(1, wishes.base.holes + 1) for breath in Breath)
    return tuple(reed for reed in every if reed not in wishes.frozen)


def changes_of(wishes: SearchWishes, reed: Reed) -> tuple[Change, ...]:
    """How this reed may be changed, from down to up, within what is still a reed of a harp."""
    own = reed_midi(wishes.base, reed)
    return tuple(
        Change(reed, semitones)
        for semitones in range(-wishes.semitones, wishes.semitones + 1)
        if semitones and LOWEST_REED <= own + semitones <= HIGHEST_REED
    )


def reed_midi(tuning: Tuning, reed: Reed) -> int:
    """The MIDI note of a reed on the harp in C."""
    reeds = tuning.blow if reed.breath is Breath.BLOW else tuning.draw
    return reeds[reed.hole - 1]
