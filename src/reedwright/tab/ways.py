"""Which ways of sounding a note a player may take, in order of preference.

The order, which also breaks ties between equally easy tabs: plain notes before bends,
bends before valved bends, then overblows and overdraws; shallow bends before deep ones;
the slide out before in; lower holes before higher; blow before draw.

Public: `allowed`, `usable_ways`, `technique_name`, `WayTable`, `WaySet`, `way_table`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Breath, Harp, Sounding, Technique
from reedwright.player.profile import Profile
from reedwright.tab.effort import TECHNIQUE_ORDER, Ways, encoded
from reedwright.tab.ornaments.playable import OUTCOMES, Demand, Ornamenting, ornamenting

MIDI_NOTES = 128
ROWS = 2 * MIDI_NOTES
"""Rows of a table, or more: the MIDI notes, then one for each set of ways that is asked for."""


NO_NOTE = -1
"""Outcome of an ornament on a note that is missing itself."""


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


class WaySet(NamedTuple):
    """One problem: the ways of each MIDI note of the harp, how the tune is moved (semitones),
    and what ornaments the ways can have."""

    soundings: Mapping[int, tuple[Sounding, ...]]
    moved: int
    ornamenting: Ornamenting


class OrnamentTable(NamedTuple):
    """An ornament on every way of a note: effort at leisure and what becomes of it.

    Both of shape (ways, problems); `outcome` counts as `OUTCOMES`.
    """

    effort: NDArray[np.float64]
    outcome: NDArray[np.int8]


_MOST_KEPT = 512  # ornament tables; some tens of kilobytes each


@dataclass(frozen=True, slots=True)
class WayTable:
    """The ways of every MIDI note in each of several problems (a harp, the tune moved).

    The arrays of `ways` have shape (256 or more, most ways, problems), by the note as written
    in the tune. `counts`, shape (256 or more, problems), says how many there are; a note
    without any has the one way of a missing note. `sets` has the same as soundings, for what
    is worked out way by way. `whole` and `part`: the table that this is a part of, and which.
    """

    ways: Ways
    counts: NDArray[np.int8]
    sets: tuple[WaySet, ...]
    whole: WayTable | None = None
    part: NDArray[np.int64] | None = None
    _kept: dict[tuple[int, Demand], OrnamentTable] = field(default_factory=dict)

    def take(self, problems: NDArray[np.int64]) -> WayTable:
        """Some of the problems, by index."""
        return WayTable(
            self.ways.take(np.s_[:, :, problems]), self.counts[:, problems], (), self, problems
        )

    def ornament(self, midi: int, demand: Demand) -> OrnamentTable:
        """An ornament on the note of this row. Kept, as tunes ask for the same ones."""
        if self.whole is not None:
            found = self.whole.ornament(midi, demand)
            most = max(1, int(self.counts[midi].max()))
            return OrnamentTable(found.effort[:most, self.part], found.outcome[:most, self.part])
        key = (midi, demand)
        if key not in self._kept:
            if len(self._kept) >= _MOST_KEPT:
                self._kept.clear()
            self._kept[key] = self._ornament(midi, demand)
        return self._kept[key]

    def _ornament(self, midi: int, demand: Demand) -> OrnamentTable:
        shape = (max(1, int(self.counts[midi].max())), len(self.sets))
        effort, outcome = np.zeros(shape), np.full(shape, NO_NOTE, np.int8)
        for p, (soundings, moved, ornaments) in enumerate(self.sets):
            asked = demand._replace(midi=demand.midi + moved)
            for k, way in enumerate(soundings.get(midi + moved, ())):
                found = ornaments.realised(way, asked)
                effort[k, p], outcome[k, p] = found.effort, OUTCOMES.index(found.outcome)
        return OrnamentTable(effort, outcome)


@lru_cache(maxsize=64)
def way_table(harps: tuple[Harp, ...], moved: tuple[int, ...], profile: Profile) -> WayTable:
    """One problem for each harp and, beside it, the semitones by which the tune is moved."""
    return make_table(
        tuple(
            WaySet(usable_ways(harp, profile), semitones, ornamenting(harp, profile))
            for harp, semitones in zip(harps, moved, strict=True)
        )
    )


def make_table(sets: tuple[WaySet, ...]) -> WayTable:
    most = max((len(ways) for each in sets for ways in each.soundings.values()), default=1)
    rows = max((ROWS, *(1 + midi for each in sets for midi in each.soundings)))
    shape = (rows, most, len(sets))
    arrays = [np.zeros(shape, np.int8) for _ in Ways._fields]
    counts = np.zeros((rows, len(sets)), np.int8)
    for p, each in enumerate(sets):
        for midi, ways in each.soundings.items():
            written = midi - each.moved
            if 0 <= written < rows:
                counts[written, p] = len(ways)
                for k, way in enumerate(ways):
                    for array, number in zip(arrays, encoded(way), strict=True):
                        array[written, k, p] = number
    return WayTable(Ways(*arrays), counts, sets)
