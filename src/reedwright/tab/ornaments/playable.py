"""What a hole's neighbours allow: how an ornament is played on a harp, and what it costs.

An ornament is played in the one breath of its note. A grace note is

* the next hole, where that sounds its pitch (a cut above, a tap below), or a hole farther
  on with the holes between passed over;
* a bend of the note's own reed, let go into the note;
* the note itself, where another grace note comes between;
* else the neighbour that comes nearest in pitch, which then sounds what it sounds.

On a bent note all of it is harder. What is least effort is taken; what would be more than
`grace_lost` is left out.

Public: `Demand`, `Realised`, `Ornamenting`, `ornamenting`,
`written_demands`, `demands_of`.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from reedwright.harp.model import Breath, Harp, Reed, Sounding, Technique
from reedwright.player.profile import Profile
from reedwright.tab.ornaments.model import OrnamentKind
from reedwright.tune.model import Note

FARTHEST = 3
"""Holes from a note to the farthest grace note that a player slides from (our judgement)."""

AS_WRITTEN, OTHER, LOST = OUTCOMES = ("grace", "grace_other", "grace_lost")
"""What becomes of a demand; also the name of the weight that its effort is told under."""


class Demand(NamedTuple):
    """One thing that ornaments a note.

    `what` is `grace` or one of the shapes below; `midi` the pitch of a grace note;
    `last`: it is the last grace note before its note, so it can't be the same pitch.
    """

    what: str
    midi: int = 0
    last: bool = True


UP, DOWN, BOTH, SHAKE, BEND, TONGUE = "up", "down", "both", "shake", "bend", "tongue"

# The standard's decorations (ABC 2.1, 4.14) by the shape that they take on the harp.
DECORATIONS = {
    "roll": BOTH,
    "turn": BOTH,
    "turnx": BOTH,
    "invertedturn": BOTH,
    "invertedturnx": BOTH,
    "trill": SHAKE,
    "uppermordent": UP,
    "pralltriller": UP,
    "lowermordent": DOWN,
    "mordent": DOWN,
    "slide": BEND,
}
SHAPES = {
    OrnamentKind.CUT: UP,
    OrnamentKind.TAP: DOWN,
    OrnamentKind.LONG_ROLL: BOTH,
    OrnamentKind.SHORT_ROLL: BOTH,
    OrnamentKind.SLIDE: BEND,
    OrnamentKind.WARBLE: SHAKE,
    OrnamentKind.TRIPLET: TONGUE,
}


def written_demands(note: Note) -> tuple[Demand, ...]:
    """What the grace notes and decorations of a note ask for."""
    if not note.graces and not note.decorations:
        return ()
    count = len(note.graces)
    asked = [Demand("grace", g.pitch.midi, k == count - 1) for k, g in enumerate(note.graces)]
    asked += [Demand(DECORATIONS[each]) for each in note.decorations if each in DECORATIONS]
    return tuple(asked)


def demands_of(kind: OrnamentKind) -> tuple[Demand, ...]:
    """What an ornament of this kind asks for; grace notes are asked for one by one."""
    return (Demand(SHAPES[kind]),) if kind in SHAPES else ()


class Realised(NamedTuple):
    """How a demand is met: the holes that sound besides the note's own, in order.

    `outcome` is one of `AS_WRITTEN`, `OTHER`, `LOST`; `effort` is at leisure.
    """

    touched: tuple[Sounding, ...]
    outcome: str
    effort: float


class Ornamenting:
    """One harp and one player: what ornaments every way of sounding a note can have."""

    def __init__(self, harp: Harp, profile: Profile) -> None:
        self._weights = profile.weights
        self._holes = harp.tuning.holes
        self._naturals: dict[tuple[int, Breath, bool], Sounding] = {}
        self._bends: dict[tuple[int, Breath, bool], dict[int, Sounding]] = {}
        for sounding in harp.soundings:
            reed = (sounding.hole, sounding.breath, sounding.slide)
            if sounding.technique is Technique.NATURAL:
                self._naturals[reed] = sounding
            elif sounding.bend and self._can(profile, harp, sounding):
                self._bends.setdefault(reed, {})[sounding.midi] = sounding
        self._known: dict[tuple[Sounding, Demand], Realised] = {}

    @staticmethod
    def _can(profile: Profile, harp: Harp, sounding: Sounding) -> bool:
        valved = Reed(sounding.hole, sounding.breath) in harp.isolated
        return profile.has("valved bend" if valved else f"{sounding.breath.value} bend")

    def neighbour(self, main: Sounding, step: int) -> Sounding | None:
        """The plain note so many holes on in the same breath, if there is such a hole."""
        return self._naturals.get((main.hole + step, main.breath, main.slide))

    def bend_into(self, main: Sounding) -> Sounding | None:
        """The shallowest bend of a plain note's own reed."""
        bends = self._bends.get((main.hole, main.breath, main.slide))
        if main.technique is not Technique.NATURAL or not bends:
            return None
        return max(bends.values(), key=lambda bend: bend.midi)

    def realised(self, main: Sounding, demand: Demand) -> Realised:
        """The way of least effort to meet a demand on a note that is sounded so."""
        key = (main, demand)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = self._least(main, demand)
        return found

    def _least(self, main: Sounding, demand: Demand) -> Realised:
        lost = Realised((), LOST, self._weights.grace_lost)
        ways = self._graces(main, demand) if demand.what == "grace" else self._shape(main, demand)
        bent = main.technique is not Technique.NATURAL
        extra = self._weights.grace_from_bend if bent else 0.0
        # Of equals the first, and rather anything than nothing.
        return min(
            (*(way._replace(effort=way.effort + extra) for way in ways), lost),
            key=lambda way: way.effort,
        )

    def _graces(self, main: Sounding, demand: Demand) -> Iterator[Realised]:
        weights = self._weights
        for distance in range(1, FARTHEST + 1):
            for step in (distance, -distance):
                touched = self.neighbour(main, step)
                if touched is None:
                    continue
                off = abs(touched.midi - demand.midi)
                if off == 0:
                    effort = weights.grace + weights.grace_skip * (distance - 1)
                    yield Realised((touched,), AS_WRITTEN, effort)
                elif distance == 1:
                    effort = weights.grace + weights.grace_other + weights.grace_semitone * off
                    yield Realised((touched,), OTHER, effort)
        if main.technique is Technique.NATURAL:
            bend = self._bends.get((main.hole, main.breath, main.slide), {}).get(demand.midi)
            if bend is not None:
                yield Realised((bend,), AS_WRITTEN, weights.grace + weights.grace_bend * bend.bend)
            if main.midi == demand.midi and not demand.last:
                yield Realised((main,), AS_WRITTEN, weights.grace)

    def _shape(self, main: Sounding, demand: Demand) -> Iterator[Realised]:
        weights = self._weights
        up, down = self.neighbour(main, 1), self.neighbour(main, -1)
        wanted: tuple[Sounding | None, ...]
        instead: tuple[Sounding | None, ...]
        match demand.what:
            case "tongue":
                yield Realised((), AS_WRITTEN, 2 * weights.repeated_note)
                return
            case "up" | "shake":
                wanted, instead, count = (up,), (down,), 1
            case "down":
                wanted, instead, count = (down,), (up,), 1
            case "both":
                wanted, instead, count = (up, down), (up or down, up or down), 2
            case _:
                bend = self.bend_into(main)
                if bend is not None:
                    yield Realised((bend,), AS_WRITTEN, weights.grace + weights.grace_bend)
                return
        for holes, outcome, more in (
            (wanted, AS_WRITTEN, 0.0),
            (instead, OTHER, weights.grace_other),
        ):
            there = tuple(hole for hole in holes if hole is not None)
            if len(there) == count:
                yield Realised(there, outcome, count * weights.grace + more)

    def grace_notes(self, main: Sounding, note: Note) -> list[tuple[int, Sounding]]:
        """The grace notes of a note as this harp has them: which one, and what sounds for it.

        Those that cannot be played are left out; of several that become the same one after
        another only the first is played, and none that is the note itself at the end.
        """
        found: list[tuple[int, Sounding]] = []
        for k, demand in enumerate(written_demands(note)[: len(note.graces)]):
            way = self.realised(main, demand)
            if way.outcome == LOST:
                continue
            (touched,) = way.touched
            if not found or found[-1][1] != touched:
                found.append((k, touched))
        while found and found[-1][1] == main:
            found.pop()
        return found


@lru_cache(maxsize=4096)
def ornamenting(harp: Harp, profile: Profile) -> Ornamenting:
    return Ornamenting(harp, profile)
