"""Which layouts there are to try: the base tuning, every change of one reed, of two, and so on.

Public: `all_layouts`, `layouts_of`, `free_reeds`, `changes_of`, `reed_midi`.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, product

from reedwright.harp.model import Breath, Reed, Tuning
from reedwright.harp.tunings import HIGHEST_REED, LOWEST_REED
from reedwright.workshop.search.model import Change, Layout, SearchWishes


def all_layouts(wishes: SearchWishes) -> tuple[Layout, ...]:
    """The unchanged layout, then every change of one reed, of two, up to `wishes.reeds`.

    By hole, blow before draw, and from down to up. Layouts that are the same tuning in another
    key are all there. Three reeds of twenty make 72,960 layouts, four 1,240,320.
    """
    return tuple(
        layout for reeds in range(wishes.reeds + 1) for layout in layouts_of(wishes, reeds)
    )


def layouts_of(wishes: SearchWishes, reeds: int) -> Iterator[Layout]:
    """Those of `all_layouts` with exactly so many reeds changed."""
    for chosen in combinations(free_reeds(wishes), reeds):
        yield from product(*(changes_of(wishes, reed) for reed in chosen))


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
