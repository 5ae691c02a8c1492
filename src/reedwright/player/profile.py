"""The person who plays: which techniques they have and what everything costs them.

A profile is a TOML file of named weights (docs/effort.md). One unit of effort is about
what it takes a learner to change breath on neighbouring quavers at a moderate tempo.
All weights are assumptions: players' judgement, no source. People differ, and
so anyone can write a profile of their own.

Public: `Profile`, `Weights`, `TECHNIQUES`, `weight_meanings`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from typing import Any

from reedwright.player.lungs import Lungs

TECHNIQUES = ("draw bend", "blow bend", "valved bend", "overblow", "overdraw")
"""What a player may have beyond plain notes. `valved bend` counts only on harps with valves."""

HOLES = 10
"""Length of the lists by hole. Further holes of a longer harp count like hole 10."""

Holes = tuple[float, ...]


def _weight(default: Any, meaning: str) -> Any:
    return field(default=default, metadata={"meaning": meaning})


@dataclass(frozen=True, slots=True)
class Weights:
    """What things cost, in effort unless the meaning says otherwise."""

    # How time counts. Haste is 0 at leisure and grows as time gets short.
    comfortable_seconds: float = _weight(
        0.35, "seconds for a note or a move at leisure; haste = comfortable / available - 1"
    )
    most_haste: float = _weight(3.0, "the most that haste can be (no unit)")
    after_rest: float = _weight(0.5, "share of a move's effort that remains across a rest (0 to 1)")

    # Techniques: each note made so, times the factor of its hole, times 1 + short_note * haste.
    draw_bend_1: float = _weight(2.5, "a draw note bent by a semitone")
    draw_bend_2: float = _weight(4.5, "a draw note bent by two semitones")
    draw_bend_3: float = _weight(6.0, "a draw note bent by three semitones or more")
    blow_bend_1: float = _weight(3.5, "a blow note bent by a semitone")
    blow_bend_2: float = _weight(5.0, "a blow note bent by two semitones or more")
    valved_bend: float = _weight(3.0, "a valved reed bent alone")
    overblow: float = _weight(8.0, "an overblow")
    overdraw: float = _weight(10.0, "an overdraw")
    bend_by_hole: Holes = _weight(  # noqa: RUF009 (it makes a field)
        (1.1, 1.2, 1.4, 1.0, 1.6, 1.0, 1.2, 1.0, 1.1, 1.3), "factor on bends, by hole 1 to 10"
    )
    over_by_hole: Holes = _weight(  # noqa: RUF009 (it makes a field)
        (1.5, 1.4, 1.3, 1.0, 1.0, 0.9, 1.0, 1.2, 1.2, 1.3), "factor on overblows and overdraws"
    )
    short_note: float = _weight(0.8, "growth of a technique's effort with the haste of its note")

    # Holes as such: plain notes that speak or aim less easily.
    low_draw: float = _weight(0.12, "a plain draw note in hole 1 or 2")
    high_hole: float = _weight(0.12, "a note above hole 7, for each hole beyond")

    # Moves: from one note to the next, times 1 + the growth * haste.
    breath_change: float = _weight(1.0, "changing between blow and draw")
    breath_haste: float = _weight(0.3, "growth of a breath change's effort with haste")
    neighbour: float = _weight(0.12, "to the next hole in the same breath")
    step: float = _weight(0.35, "to the next hole while the breath changes")
    leap: float = _weight(0.35, "over more than one hole, besides leap_hole")
    leap_hole: float = _weight(0.3, "each hole of such a leap")
    leap_haste: float = _weight(0.5, "growth of a leap's effort with haste")
    repeated_note: float = _weight(0.25, "sounding the same note again (tongue or breath)")
    repeat_haste: float = _weight(0.5, "growth of a repeated note's effort with haste")
    slide_move: float = _weight(0.5, "pushing or releasing the slide")

    # Slurs.
    slur_skip: float = _weight(0.8, "each hole that is skipped within a slur")
    slur_breath: float = _weight(0.5, "a breath change within a slur")

    # Grace notes and what else ornaments a note, in the breath of their note (a cut, a tap).
    grace: float = _weight(0.3, "a grace note on the next hole, in the breath of its note")
    grace_skip: float = _weight(0.6, "each hole that lies between a grace note and its note")
    grace_bend: float = _weight(0.7, "a grace note that is a bend, let go into its note")
    grace_other: float = _weight(0.6, "a grace note for which the harp has only another pitch")
    grace_semitone: float = _weight(0.1, "each semitone that such a grace note is off")
    grace_from_bend: float = _weight(1.5, "a grace note or an ornament on a bent note")
    grace_lost: float = _weight(4.0, "a written ornament that cannot be played")
    grace_haste: float = _weight(0.3, "growth of an ornament's effort with the haste of its note")

    # Bends among other notes.
    bend_from_afar: float = _weight(0.8, "a bend, overblow or overdraw come to from another hole")
    bend_shift: float = _weight(0.5, "from one bend of a hole to another, deeper or less deep")
    release: float = _weight(0.3, "letting a bend up into the plain note of the same reed")

    # Breath: what balance is worth against effort.
    breath_balance: float = _weight(
        0.0, "each litre that the lungs are away from comfortable, at each note (0: not weighed)"
    )

    # What cannot be played.
    missing_note: float = _weight(25.0, "a note that no hole sounds (it is never dropped)")


@dataclass(frozen=True, slots=True)
class Profile:
    """A player: name, title and description for people, techniques, weights, lungs.

    `harps` are those that the player owns, as `harp.making.parse_harp` reads them
    (`G:richter-raised-3-blow:half`); empty where that is not said.
    """

    name: str
    title: str
    description: str = ""
    techniques: frozenset[str] = frozenset()
    weights: Weights = Weights()
    lungs: Lungs = Lungs()  # noqa: RUF009 (a frozen value)
    harps: tuple[str, ...] = ()

    def has(self, technique: str) -> bool:
        """Whether the player has one of `TECHNIQUES`."""
        return technique in self.techniques


def weight_meanings() -> dict[str, str]:
    """Every weight with what it means, in the order of the documentation."""
    return {each.name: str(each.metadata["meaning"]) for each in fields(Weights)}
