"""Layouts hole by hole: what every hole sounds in every state that its reeds are brought to.

What a hole sounds follows from its own two reeds and its valves (see `harp.model`), so a layout is
the states of its holes, and the few states that there are stand for all layouts. Pitches here
are those of the harp in C.

Public: `Holes`, `holes_of`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_valves
from reedwright.harp.model import Breath, Harp, Sounding, Technique
from reedwright.player.profile import Profile
from reedwright.tab.effort import Ways, encoded
from reedwright.tab.ways import allowed
from reedwright.workshop.search.model import Layout, SearchWishes, layout_tuning

NOTHING = -1
"""Pitch of a slot in which a hole sounds nothing."""

MISSING = 0
"""The way of a note that the harp lacks."""

_Slot = tuple[Breath, Technique, int, bool]
"""What is done in a hole: breath, technique, semitones of bend, slide."""


@dataclass(frozen=True, slots=True)
class Holes:
    """The layouts, the states of their holes, and the ways to sound notes.

    `states`, shape (layouts, holes): which state each hole is in; states are numbered over all
    holes. `hole`, shape (states,), counts from 0. `midi`, shape (states, slots): the note that a
    player of the profile sounds with it, or `NOTHING`. A way is a hole and a slot; `way_of`,
    shape (holes, slots), numbers those that there are, and `ways` tells of each, shape
    (ways,), `MISSING` first. `slot_of`, shape (ways,), and `reed`, shape (states, 2 breaths, 2
    slides): the plain note, `NOTHING` where the harp has no slide.
    `present` and `plain`, shape (layouts, notes from `lowest` up): 1 where the layout has the note
    for this player, and with no technique at all.
    """

    states: NDArray[np.int16]
    hole: NDArray[np.int16]
    midi: NDArray[np.int16]
    way_of: NDArray[np.int16]
    ways: Ways
    slot_of: NDArray[np.int16]
    reed: NDArray[np.int16]
    present: NDArray[np.float32]
    plain: NDArray[np.float32]
    lowest: int

    @property
    def layouts(self) -> int:
        return len(self.states)


def holes_of(wishes: SearchWishes, profile: Profile, layouts: Sequence[Layout]) -> Holes:
    """The layouts taken apart.

    Raises `HarpError` for valves that are not understood and `ReedwrightError` for a hole that the
    base does not have.
    """
    count = wishes.base.holes
    numbers: dict[tuple[int, int, int], int] = {}
    soundings: list[list[Sounding]] = []
    states = np.zeros((len(layouts), count), np.int16)

    def state(layout: Layout, hole: int) -> int:
        moved = dict.fromkeys(Breath, 0)
        for reed, semitones in layout:
            if reed.hole == hole + 1:
                moved[reed.breath] += semitones
        key = (hole, moved[Breath.BLOW], moved[Breath.DRAW])
        if key not in numbers:
            numbers[key] = len(numbers)
            soundings.append(_sounded(wishes, layout, hole + 1))
        return numbers[key]

    states[:] = [state((), hole) for hole in range(count)]
    for place, layout in enumerate(layouts):
        for hole in {reed.hole - 1 for reed, _ in layout}:
            if not 0 <= hole < count:
                raise ReedwrightError(
                    f"a layout changes a reed of hole {hole + 1}, but {wishes.base.title} has "
                    f"holes 1 to {count}; leave that change out"
                )
            states[place, hole] = state(layout, hole)
    usable = [[each for each in found if allowed(each, profile)] for found in soundings]
    slots: dict[_Slot, int] = {}
    for each in (each for found in usable for each in found):
        slots.setdefault(_slot(each), len(slots))
    midi = np.full((len(usable), len(slots)), NOTHING, np.int16)
    reed = np.full((len(usable), len(Breath), 2), NOTHING, np.int16)
    ways: dict[tuple[int, int], Sounding] = {}
    for number, found in enumerate(usable):
        for each in found:
            slot = slots[_slot(each)]
            midi[number, slot] = each.midi
            ways.setdefault((each.hole - 1, slot), each)
            if each.technique is Technique.NATURAL:
                reed[number, int(each.breath is Breath.DRAW), int(each.slide)] = each.midi
    way_of = np.full((count, len(slots)), MISSING, np.int16)
    for number, of_hole in enumerate(ways, start=MISSING + 1):
        way_of[of_hole] = number
    natural = np.array([slot[1] is Technique.NATURAL for slot in slots], np.bool_)
    lowest = int(midi[midi != NOTHING].min())
    present = _present(states, midi, lowest)
    return Holes(
        states=states,
        hole=np.array([hole for hole, _, _ in numbers], np.int16),
        midi=midi,
        way_of=way_of,
        ways=Ways(*np.array([encoded(None), *map(encoded, ways.values())], np.int8).T),
        slot_of=np.array([0, *(slot for _, slot in ways)], np.int16),
        reed=reed,
        present=present,
        plain=present if natural.all() else _present(states, midi[:, natural], lowest),
        lowest=lowest,
    )


def _sounded(wishes: SearchWishes, layout: Layout, hole: int) -> list[Sounding]:
    """All that a hole of a layout sounds on the harp in C."""
    tuning = layout_tuning(wishes.base, layout)
    harp = Harp(tuning, "C", 0, isolated=parse_valves(wishes.valves, tuning))
    return [
        sounding
        for slide in ((False, True) if tuning.slide else (False,))
        for sounding in harp.hole_soundings(hole, slide)
    ]


def _slot(sounding: Sounding) -> _Slot:
    return (sounding.breath, sounding.technique, sounding.bend, sounding.slide)


def _present(
    states: NDArray[np.int16], midi: NDArray[np.int16], lowest: int
) -> NDArray[np.float32]:
    """Which notes each layout has, from the lowest to the highest that any has."""
    of_state = np.zeros((len(midi), int(midi.max()) + 1 - lowest), np.bool_)
    number, slot = np.nonzero(midi != NOTHING)
    of_state[number, midi[number, slot] - lowest] = True
    found = np.zeros((len(states), of_state.shape[1]), np.bool_)
    for hole in range(states.shape[1]):
        found |= of_state[states[:, hole]]
    return found.astype(np.float32)
