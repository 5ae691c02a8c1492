"""The harmonica: reeds, valves, and by rule from them every note that a hole can sound.

Rules (common practice of the trade; docs/sources.md)
-----------------------------------------------------
* A hole has a blow reed and a draw reed.
* Two-reed bend: the higher reed of a hole bends down to a semitone above the lower.
* Overblow, overdraw: in the breath of the lower reed the higher reed sounds a
  semitone above its own pitch.
* A valve over the other reed's slot isolates a reed: in its breath no air reaches
  the other reed. It bends alone, about a semitone; a two-reed bend of this reed, and
  the overblow or overdraw in this breath, need that air and are lost. What the
  hole does in the other breath stays: so on a half-valved harp, where the lower
  reeds are isolated, the two-reed bends of the higher reeds keep working.
* A slide, where there is one, raises every reed of the harp by a semitone (a tuning
  may name reeds for which it does something else).

Pitches are MIDI note numbers (middle C is 60), bends whole semitones.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import NamedTuple

# How far most players bend a reed alone, in semitones (common practice; some go further).
VALVED_BEND_DEPTH = 1


class Breath(StrEnum):
    BLOW = "blow"
    DRAW = "draw"

    @property
    def other(self) -> Breath:
        return Breath.DRAW if self is Breath.BLOW else Breath.BLOW


class Technique(StrEnum):
    """How a note is made in its hole, in the order of preference among equally easy tabs."""

    NATURAL = "natural"
    BEND = "bend"  # two-reed bend
    VALVED_BEND = "valved bend"  # one isolated reed, bent alone
    OVERBLOW = "overblow"
    OVERDRAW = "overdraw"

    @property
    def overbend(self) -> bool:
        """Whether it is an overblow or an overdraw; players call the two overbends."""
        return self in (Technique.OVERBLOW, Technique.OVERDRAW)


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

    `blow` and `draw` are MIDI notes of holes 1 to n on the harp whose first
    position is C, in the ordinary register. `first_position` is semitones from
    the key that the trade prints on the harp up to the tonic that first position
    means (0 but for tunings that are named by another position). `slide` is
    what the slide adds, in semitones (0 where there is none); `blow_slide` and
    `draw_slide` give the reeds with the slide in where some differ from that.
    `valves` is how harps of this tuning are made: "none", "half" or "full".
    """

    name: str
    title: str
    description: str
    blow: tuple[int, ...]
    draw: tuple[int, ...]
    slide: int = 0
    first_position: int = 0
    source: str = ""
    blow_slide: tuple[int, ...] = ()
    draw_slide: tuple[int, ...] = ()
    valves: str = "none"

    @property
    def holes(self) -> int:
        return len(self.blow)

    @property
    def lower_reeds(self) -> frozenset[Reed]:
        """The lower reed of every hole: it has no two-reed bend. None of two equal reeds."""
        return frozenset(
            Reed(hole, Breath.BLOW if blow < draw else Breath.DRAW)
            for hole, (blow, draw) in enumerate(zip(self.blow, self.draw, strict=True), start=1)
            if blow != draw
        )


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
        """Every note: slide out first, by hole, blow before draw, plain before bent."""
        return tuple(
            sounding
            for slide in ((False, True) if self.tuning.slide else (False,))
            for hole in range(1, self.tuning.holes + 1)
            for sounding in self.hole_soundings(hole, slide)
        )

    def reed_midi(self, hole: int, breath: Breath, slide: bool = False) -> int:
        """The MIDI note of one reed of this harp (with the slide in, where asked)."""
        tuning = self.tuning
        plain, slid = (
            (tuning.blow, tuning.blow_slide)
            if breath is Breath.BLOW
            else (tuning.draw, tuning.draw_slide)
        )
        if slide and slid:
            return slid[hole - 1] + self.transpose
        return plain[hole - 1] + self.transpose + (tuning.slide if slide else 0)

    def hole_soundings(self, hole: int, slide: bool = False) -> list[Sounding]:
        """All that one hole sounds, by the rule at the head of this file."""
        found: list[Sounding] = []
        for breath in Breath:
            own = self.reed_midi(hole, breath, slide)
            other = self.reed_midi(hole, breath.other, slide)
            found.append(Sounding(hole, breath, Technique.NATURAL, own, 0, slide))
            if Reed(hole, breath) in self.isolated:
                # The valve keeps the other reed out: no two-reed bend, no overblow here.
                for bend in range(1, VALVED_BEND_DEPTH + 1):
                    found.append(
                        Sounding(hole, breath, Technique.VALVED_BEND, own - bend, bend, slide)
                    )
                continue
            for bend in range(1, own - other):
                found.append(Sounding(hole, breath, Technique.BEND, own - bend, bend, slide))
            if other > own:
                over = Technique.OVERBLOW if breath is Breath.BLOW else Technique.OVERDRAW
                found.append(Sounding(hole, breath, over, other + 1, 0, slide))
        return found

    @property
    def home_pitch_class(self) -> int:
        """Pitch class (0 for C) of the tonic that first position means."""
        return self.transpose % 12

    @cached_property
    def ways(self) -> dict[int, tuple[Sounding, ...]]:
        """For each MIDI note that the harp has, every way to sound it."""
        by_note: dict[int, list[Sounding]] = {}
        for sounding in self.soundings:
            by_note.setdefault(sounding.midi, []).append(sounding)
        return {midi: tuple(ways) for midi, ways in sorted(by_note.items())}

    @property
    def valving(self) -> str:
        """`half-valved`, `fully valved`, `3 reeds valved`, or nothing where there are none."""
        if not self.isolated:
            return ""
        if len(self.isolated) == 2 * self.tuning.holes:
            return "fully valved"
        if self.isolated == self.tuning.lower_reeds:
            return "half-valved"
        return f"{len(self.isolated)} reed{'s' if len(self.isolated) > 1 else ''} valved"

    @property
    def name(self) -> str:
        """`G harp, raised 3 blow`, `low D harp`, `C harp, half-valved`.

        Valves are named where the harp is not made with them.
        """
        parts = [f"{self.key} harp"]
        if self.register != "ordinary":
            parts = [f"{self.register} {self.key} harp"]
        if self.tuning.name != "richter":
            parts.append(self.tuning.title)
        if self.valving and not (self.valving == "fully valved" and self.tuning.valves == "full"):
            parts.append(self.valving)
        return ", ".join(parts)
