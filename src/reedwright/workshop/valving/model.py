"""The values of a valve plan.

A harp has two plates: the reeds of the blow plate sit inside the harp (above the comb), those
of the draw plate outside of their plate. A valve lies over the slot of the reed that is *not*
to leak, on the side away from the reed: to isolate the draw reed of a hole, the blow slot of that
hole is covered, and the other way about (`harp.model`).

Public: `Slot`, `Valve`, `ValvePlan`, `PlateMeasures`, `RivetEnd`, `SlotSizes`, `ValveError`,
`listed_valves`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.workshop.changes import HoleChange


class ValveError(ReedwrightError):
    """A harp whose valves cannot be planned, or slot sizes that cannot be used."""


class RivetEnd(StrEnum):
    """At which edge of the plate the reeds are riveted."""

    FRONT = "front"  # the mouthpiece
    BACK = "back"


class Slot(NamedTuple):
    """One reed slot, in millimetres. `measured`: by the user, not a default.

    `worked_out`: from other slots of this harp that the user measured.
    """

    reed: Reed
    length: float
    width: float
    measured: bool = False
    worked_out: bool = False


class Valve(NamedTuple):
    """One valve: it covers `slot` and so isolates `isolates`; `length` and `width` in millimetres.

    `inside`: whether it lies inside of the harp, facing the comb (else under the cover).
    `pad`: how much of the length is glued, at the rivet end. `fits`: whether there
    is room for the least margin that seals. `notes`: what is to be known of this one, in sentences.
    """

    slot: Reed
    isolates: Reed
    length: float
    width: float
    inside: bool
    measured: bool = False
    worked_out: bool = False
    pad: float = 0.0
    fits: bool = True
    notes: tuple[str, ...] = ()

    @property
    def plate(self) -> Breath:
        """Which plate it is glued to."""
        return self.slot.breath

    @property
    def name(self) -> str:
        """`blow 7`: the plate and hole of the slot that it covers."""
        return f"{self.slot.breath.value} {self.slot.hole}"


@dataclass(frozen=True, slots=True)
class PlateMeasures:
    """What the plates and the comb leave room for, in millimetres. All from memory.

    `hole_pitch`: from the middle of a hole to that of the next. `rivet_gap`: on the valve's
    side, from the slot's end to the rivet. `chamber_width`: of the comb, from wall to wall.
    """

    hole_pitch: float = 7.5
    rivet_gap: float = 2.5
    chamber_width: float = 5.2
    blow_rivets: RivetEnd = RivetEnd.FRONT
    draw_rivets: RivetEnd = RivetEnd.BACK
    told: frozenset[str] = frozenset()  # names of those that the user measured

    def rivets(self, plate: Breath) -> RivetEnd:
        """At which edge of this plate the reeds are riveted."""
        return self.blow_rivets if plate is Breath.BLOW else self.draw_rivets


@dataclass(frozen=True, slots=True)
class SlotSizes:
    """What the user measured: some slots, all, or none (then defaults stand in).

    `title`: what was measured, in the user's words.
    """

    slots: tuple[Slot, ...] = ()
    plates: PlateMeasures = PlateMeasures()
    title: str = ""


@dataclass(frozen=True, slots=True)
class ValvePlan:
    """All valves of a harp in the order in which they are cut and glued.

    `changes`: what every hole gains and loses against the harp without valves.
    `notes`: what the user should know (defaults used, slots too small), in sentences.
    `slots`: every slot of both plates, blow from hole 1 up, then draw.
    """

    harp: Harp
    valves: tuple[Valve, ...]
    changes: tuple[HoleChange, ...]
    notes: tuple[str, ...] = ()
    slots: tuple[Slot, ...] = ()
    plates: PlateMeasures = PlateMeasures()

    def of_plate(self, plate: Breath) -> tuple[Valve, ...]:
        """The valves that are glued to one plate."""
        return tuple(valve for valve in self.valves if valve.plate is plate)


def listed_valves(valves: Iterable[Valve]) -> str:
    """`blow 7 8 9 10, draw 1 2`: valves by the slots that they cover."""
    slots = sorted(valve.slot for valve in valves)
    return ", ".join(
        f"{plate.value} {' '.join(holes)}"
        for plate in Breath
        if (holes := [str(slot.hole) for slot in slots if slot.breath is plate])
    )
