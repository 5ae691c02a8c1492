"""The values of a valve plan.

A harp has two plates: the reeds of the blow plate sit inside the harp (above the comb), those
of the draw plate outside of their plate. A valve lies over the slot of the reed that is *not*
to leak, on the side away from the reed: to isolate the draw reed of a hole, the blow slot of that
hole is covered, and the other way about (`harp.model`).

Public: `Slot`, `Valve`, `ValvePlan`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from reedwright.harp.model import Breath, Harp, Reed
from reedwright.workshop.changes import HoleChange


class Slot(NamedTuple):
    """One reed slot, in millimetres. `measured`: by the user, not a default."""

    reed: Reed
    length: float
    width: float
    measured: bool = False


class Valve(NamedTuple):
    """One valve: it covers `slot` and so isolates `isolates`; `length` and `width` in millimetres.

    `inside`: whether it lies inside of the harp, facing the comb (else under the cover).
    """

    slot: Reed
    isolates: Reed
    length: float
    width: float
    inside: bool
    measured: bool = False

    @property
    def plate(self) -> Breath:
        """Which plate it is glued to."""
        return self.slot.breath


@dataclass(frozen=True, slots=True)
class ValvePlan:
    """All valves of a harp in the order in which they are cut and glued.

    `changes`: what every hole gains and loses against the harp without valves.
    `notes`: what the user should know (defaults used, slots too small), in sentences.
    """

    harp: Harp
    valves: tuple[Valve, ...]
    changes: tuple[HoleChange, ...]
    notes: tuple[str, ...] = ()
