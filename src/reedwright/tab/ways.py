"""Which ways of sounding a note a player may take, in order of preference.

The order, which also breaks ties between equally easy tabs: plain notes before bends,
bends before valved bends, then overblows and overdraws; shallow bends before deep ones;
the slide out before in; lower holes before higher; blow before draw.

Public: `allowed`, `usable_ways`, `technique_name`, `WayTable`, `way_table`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Breath, Harp, Sounding, Technique
from reedwright.player.profile import Profile
from reedwright.tab.effort import TECHNIQUE_ORDER, Ways, encoded

MIDI_NOTES = 128
ROWS = 2 * MIDI_NOTES
"""Rows of a table: the MIDI notes, then as many for notes whose way is given."""


def technique_name(sounding: Sounding) -> str:
    """What a player must have for it, one of `player.profile.TECHNIQUES`; "" for a plain note."""
    match sounding.technique:
        case Technique.NATURAL:
            return ""
        case Technique.BEND:
            return f"{sounding.breath.value} bend"
        case _:
            return sounding.technique.value


def allowed(sounding: Sounding, profile: Profile) -> bool:
    name = technique_name(sounding)
    return not name or profile.has(name)


def preference(sounding: Sounding) -> tuple[int, int, bool, int, bool]:
    """Sorts ways into the order above."""
    return (
        TECHNIQUE_ORDER.index(sounding.technique),
        sounding.bend,
        sounding.slide,
        sounding.hole,
        sounding.breath is Breath.DRAW,
    )


@lru_cache(maxsize=4096)
def usable_ways(harp: Harp, profile: Profile) -> dict[int, tuple[Sounding, ...]]:
    """For each MIDI note that this player has on this harp, the ways in order of preference."""
    found = {}
    for midi, ways in harp.ways.items():
        mine = sorted((way for way in ways if allowed(way, profile)), key=preference)
        if mine:
            found[midi] = tuple(mine)
    return found


@dataclass(frozen=True, slots=True)
class WayTable:
    """The ways of every MIDI note in each of several problems (a harp, the tune moved).

    The arrays of `ways` have shape (256, most ways, problems), by the note as written in
    the tune. `counts`, shape (256, problems), says how many there are; a note without any
    has the one way of a missing note.
    """

    ways: Ways
    counts: NDArray[np.int8]

    def take(self, problems: Any) -> WayTable:
        """Some of the problems, by index."""
        return WayTable(self.ways.take(np.s_[:, :, problems]), self.counts[:, problems])


@lru_cache(maxsize=64)
def way_table(harps: tuple[Harp, ...], moved: tuple[int, ...], profile: Profile) -> WayTable:
    """One problem for each harp and, beside it, the semitones by which the tune is moved."""
    soundings = tuple(usable_ways(harp, profile) for harp in harps)
    return make_table(soundings, moved)


def make_table(
    soundings: tuple[dict[int, tuple[Sounding, ...]], ...], moved: Sequence[int]
) -> WayTable:
    most = max((len(ways) for table in soundings for ways in table.values()), default=1)
    shape = (ROWS, most, len(soundings))
    arrays = [np.zeros(shape, np.int8) for _ in Ways._fields]
    counts = np.zeros((ROWS, len(soundings)), np.int8)
    for p, (table, semitones) in enumerate(zip(soundings, moved, strict=True)):
        for midi, ways in table.items():
            written = midi - semitones
            if 0 <= written < ROWS:
                counts[written, p] = len(ways)
                for k, way in enumerate(ways):
                    for array, number in zip(arrays, encoded(way), strict=True):
                        array[written, k, p] = number
    return WayTable(Ways(*arrays), counts)
