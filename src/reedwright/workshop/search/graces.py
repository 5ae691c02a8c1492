"""What a grace note costs on many layouts at once: `tab.ornaments.playable`, in arrays.

A grace note is played from its note's hole, so what it costs follows from the holes beside it:
the one thing in a tune's effort that does not follow from the ways of its notes alone. The other
ornaments follow from the way of their note, but for a slide into the note, which asks
whether its reed bends.

Public: `Ornaments`, `stands_alone`.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Breath, Harp, Sounding, Technique
from reedwright.player.profile import Profile
from reedwright.tab.effort import TECHNIQUE_ORDER
from reedwright.tab.ornaments.playable import BEND, FARTHEST, Demand, Ornamenting
from reedwright.workshop.search.holes import NOTHING, Holes
from reedwright.workshop.search.model import SearchWishes

Floats = NDArray[np.float64]
Integers = NDArray[Any]

_GRACE = "grace"
_NATURAL = TECHNIQUE_ORDER.index(Technique.NATURAL)


def stands_alone(demand: Demand) -> bool:
    """Whether its effort follows from the way of its note alone, whatever the layout."""
    return demand.what not in (_GRACE, BEND)


class Ornaments:
    """The ornaments of one player on the layouts of `holes`."""

    def __init__(self, wishes: SearchWishes, profile: Profile, holes: Holes) -> None:
        self._holes = holes
        self._weights = profile.weights
        self._bent = holes.ways.technique != _NATURAL
        self._any = Ornamenting(Harp(wishes.base, "C", 0), profile)
        # The bends of each reed: slots by breath and slide, with how deep they are.
        self._bends: dict[tuple[int, int], list[tuple[int, int]]] = {}
        ways = holes.ways
        for slot in range(holes.midi.shape[1]):
            (number, *_) = np.nonzero(holes.slot_of[1:] == slot)[0] + 1
            if ways.bend[number]:
                reed = (int(ways.breath[number]), int(ways.slide[number]))
                self._bends.setdefault(reed, []).append((slot, int(ways.bend[number])))
        self._known: dict[str, Floats] = {}

    def by_way(self, demand: Demand) -> Floats:
        """Effort at leisure of an ornament that `stands_alone`, shape (ways + 1,).

        Nothing for a missing note, and nothing in the last place, which stands for no way.
        """
        if demand.what not in self._known:
            ways = self._holes.ways
            found = np.zeros(len(ways.hole) + 1)
            for number in range(1, len(ways.hole)):
                way = Sounding(
                    int(ways.hole[number]),
                    Breath.DRAW if ways.breath[number] else Breath.BLOW,
                    TECHNIQUE_ORDER[ways.technique[number]],
                    0,
                    int(ways.bend[number]),
                    bool(ways.slide[number]),
                )
                found[number] = self._any.realised(way, demand).effort
            self._known[demand.what] = found
        return self._known[demand.what]

    def efforts(self, demand: Demand, states: Integers, shift: Integers, way: Integers) -> Floats:
        """Effort at leisure of an ornament that does not stand alone, shape (cases,).

        Of each case: the states of the layout's holes, shape (cases, holes); how far the tune
        is moved from the harp in C; the way of the note.
        """
        weights, ways = self._weights, self._holes.ways
        bent = self._bent[way]
        extra = np.where(bent, weights.grace_from_bend, 0.0)
        least = np.full(len(way), weights.grace_lost)

        def offer(effort: Any, where: Integers) -> None:
            np.minimum(least, effort + extra, out=least, where=where)

        hole, breath, slide = ways.hole[way] - 1, ways.breath[way], ways.slide[way]
        mine = states[np.arange(len(way)), hole]
        if demand.what == BEND:
            depths = self._own_bends(mine, breath, slide)
            offer(weights.grace + weights.grace_bend, ~bent & (depths != NOTHING).any(axis=1))
            return least
        wanted = demand.midi + shift
        for distance in range(1, FARTHEST + 1):
            for step in (distance, -distance):
                beside = hole + step
                there = (beside >= 0) & (beside < states.shape[1])
                state = states[np.arange(len(way)), np.where(there, beside, 0)]
                off = np.abs(self._holes.reed[state, breath, slide] - wanted)
                offer(weights.grace + weights.grace_skip * (distance - 1), there & (off == 0))
                if distance == 1:
                    effort = weights.grace + weights.grace_other + weights.grace_semitone * off
                    offer(effort, there & (off != 0))
        depths = self._own_bends(mine, breath, slide)
        for number in range(depths.shape[1]):
            pitch = depths[:, number]
            depth = self._depths(breath, slide, number)
            offer(
                weights.grace + weights.grace_bend * depth,
                ~bent & (pitch != NOTHING) & (pitch == wanted),
            )
        if not demand.last:
            own = self._holes.midi[mine, self._holes.slot_of[way]]
            offer(weights.grace, ~bent & (own == wanted))
        return least

    def _own_bends(self, state: Integers, breath: Integers, slide: Integers) -> Integers:
        """The notes to which each reed bends, shape (cases, most bends)."""
        most = max((len(each) for each in self._bends.values()), default=0)
        found = np.full((len(state), most), NOTHING, np.int16)
        for (of_breath, of_slide), slots in self._bends.items():
            (where,) = np.nonzero((breath == of_breath) & (slide == of_slide))
            for number, (slot, _) in enumerate(slots):
                found[where, number] = self._holes.midi[state[where], slot]
        return found

    def _depths(self, breath: Integers, slide: Integers, number: int) -> Integers:
        """How deep the bend of this number is, for each case."""
        found = np.zeros(len(breath), np.int64)
        for (of_breath, of_slide), slots in self._bends.items():
            if number < len(slots):
                found[(breath == of_breath) & (slide == of_slide)] = slots[number][1]
        return found
