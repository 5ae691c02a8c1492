"""The harmonica: reeds, valves, and by rule from them every note that a hole can sound.

Rules (common practice of the trade; docs/sources.md)
-----------------------------------------------------
* A hole has a blow reed and a draw reed.
* Two-reed bend: the higher reed of a hole bends down to a semitone above the lower.
* Overblow, overdraw: in the breath of the lower reed the higher reed sounds a
  semitone above its own pitch.
* A valve over the other reed's slot isolates a reed: it bends alone, about a
  semitone, and the overblow or overdraw that would have needed the leak is lost.
* A slide, where there is one, raises every reed of the harp by a semitone.

Pitches are MIDI note numbers (middle C is 60), bends whole semitones.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple


class Breath(StrEnum):
    BLOW = "blow"
    DRAW = "draw"

    @property
    def other(self) -> Breath:
        return Breath.DRAW if self is Breath.BLOW else Breath.BLOW


class Technique(StrEnum):
    """How a note is made in its hole."""

    NATURAL = "natural"
    BEND = "bend"  # two-reed bend
    VALVED_BEND = "valved bend"  # one isolated reed, bent alone
    OVERBLOW = "overblow"
    OVERDRAW = "overdraw"


class Sounding(NamedTuple):
    """One way to sound one note: the hole, the breath and what is done.

    `bend` counts semitones below the reed's own pitch (0 unless bent).
    """

    hole: int
    breath: Breath
    technique: Technique
    midi: int
    bend: int = 0
    slide: bool = False


class Reed(NamedTuple):
    """A reed by its place: hole (from 1) and breath."""

    hole: int
    breath: Breath


@dataclass(frozen=True, slots=True)
class Tuning:
    """A layout of reeds, for a harp in C.

    `blow` and `draw` are MIDI notes of holes 1 to n on the ordinary harp in C.
    `mode_tonic` is semitones from the harp's named key to the tonic that first
    position means (0 but for tunings that are named by another note).
    `slide` is what the slide adds, in semitones (0 where there is none).
    """

    name: str
    title: str
    description: str
    blow: tuple[int, ...]
    draw: tuple[int, ...]
    slide: int = 0
    first_position: int = 0
    source: str = ""

    @property
    def holes(self) -> int:
        return len(self.blow)


@dataclass(frozen=True)
class Harp:
    """A tuning in a key, with some reeds valved.

    `transpose` is in semitones from the ordinary harp in C: -5 for G, 6 for F
    sharp; low and high harps lie 12 beyond. `isolated` are the reeds that a
    valve (over the other reed's slot) isolates.
    """

    tuning: Tuning
    key: str
    transpose: int
    register: str = "ordinary"  # low, ordinary or high
    isolated: frozenset[Reed] = frozenset()
    a4: float = 440.0

    @cached_property
    def soundings(self) -> tuple[Sounding, ...]:
        """Every note of every hole: by hole, blow before draw, plain before bent."""
        found: list[Sounding] = []
        for slide in (False, True) if self.tuning.slide else (False,):
            shift = self.transpose + (self.tuning.slide if slide else 0)
            for hole in range(1, self.tuning.holes + 1):
                found += self._hole(hole, shift, slide)
        return tuple(found)

    def _hole(self, hole: int, shift: int, slide: bool) -> list[Sounding]:
        blow = self.tuning.blow[hole - 1] + shift
        draw = self.tuning.draw[hole - 1] + shift
        found: list[Sounding] = []
        for breath, own, other in ((Breath.BLOW, blow, draw), (Breath.DRAW, draw, blow)):
            found.append(Sounding(hole, breath, Technique.NATURAL, own, 0, slide))
            alone = Reed(hole, breath) in self.isolated
            for bend in range(1, max(own - other, 0)):
                found.append(Sounding(hole, breath, Technique.BEND, own - bend, bend, slide))
            if alone and own - other < 2:
                found.append(Sounding(hole, breath, Technique.VALVED_BEND, own - 1, 1, slide))
            if other > own and not alone:
                over = Technique.OVERBLOW if breath is Breath.BLOW else Technique.OVERDRAW
                found.append(Sounding(hole, breath, over, other + 1, 0, slide))
        return found

    @cached_property
    def ways(self) -> dict[int, tuple[Sounding, ...]]:
        """For each MIDI note that the harp has, every way to sound it."""
        by_note: dict[int, list[Sounding]] = {}
        for sounding in self.soundings:
            by_note.setdefault(sounding.midi, []).append(sounding)
        return {midi: tuple(ways) for midi, ways in sorted(by_note.items())}

    @property
    def name(self) -> str:
        """`G harp, raised 3 blow`, `low D harp`."""
        low_high = "" if self.register == "ordinary" else f"{self.register} "
        plain = self.tuning.name == "richter"
        return f"{low_high}{self.key} harp" + ("" if plain else f", {self.tuning.title}")
