"""The values of a conversion: the work on each reed, and the work on several harps together.

Public: `Work`, `Donor`, `ReedWork`, `Conversion`, `Purchase`, `WorkList`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from typing import NamedTuple

from reedwright.harp.model import Harp, Reed
from reedwright.workshop.changes import HoleChange
from reedwright.workshop.conversion.costs import hardness
from reedwright.workshop.targets.model import Targets


class Work(StrEnum):
    """What is done to a reed."""

    RAISE = "raise"  # take metal off at the free end
    LOWER = "lower"  # take metal off at the rivet end, or add a weight at the tip
    SWAP = "swap"  # too far: put in a reed of another harp
    TOUCH = "touch up"  # the same note, another temperament or pitch: half a semitone at most


class Donor(NamedTuple):
    """A harp and a reed of it that could take the place of one that would go too far.

    `semitones` is what is left to retune in it (0: as it is).
    """

    harp: Harp
    reed: Reed
    semitones: int


@dataclass(frozen=True, slots=True)
class ReedWork:
    """One reed's work, from the pitch that it has in stock to its target at the bench.

    `cents` is `to_hz` against `from_hz`: above 0 the reed is raised. `warning` is empty or says
    what is hard about it and what to do instead. `donors`: best first, only where the work is
    a swap or the warning offers one. `check` says what to play and hear before going on.
    `coarse_hz`: where to stop until the metal has settled; None where the reed is done at once.
    `finish`: what to play and hear when a reed that had to settle is finished; else empty.
    `effort`: how hard it is, in the unit of `costs`, and `hardness` in a word. `by_weight`:
    whether it is lowered by a weight, which may be soldered on.
    """

    reed: Reed
    work: Work
    from_midi: int
    to_midi: int
    from_hz: float
    to_hz: float
    cents: float
    how: str
    check: str
    warning: str = ""
    donors: tuple[Donor, ...] = ()
    coarse_hz: float | None = None
    finish: str = ""
    effort: float = 0.0
    by_weight: bool = False

    @property
    def hardness(self) -> str:
        """`easy`, `some care` or `hard`."""
        return hardness(self.effort)


@dataclass(frozen=True, slots=True)
class Conversion:
    """All the work to make `wanted` from `stock`, in bench order.

    `targets` are those of `wanted`. `changes` tells of every hole what it gains and loses,
    against the same stock harp unchanged. `semitones` sums the reed work (a swap counts as
    its cost, docs/conversions.md); `effort` is what choices between stock harps are made by.
    `notes`: what else is to be known, in sentences.
    """

    stock: Harp
    wanted: Harp
    targets: Targets
    works: tuple[ReedWork, ...]
    changes: tuple[HoleChange, ...]
    semitones: float
    effort: float
    name: str = ""
    notes: tuple[str, ...] = ()

    @property
    def finishing(self) -> tuple[ReedWork, ...]:
        """The works in the order in which reeds are finished: by hole, blow before draw."""
        return tuple(sorted(self.works, key=lambda each: (each.reed.hole, each.reed.breath)))

    @property
    def retuned(self) -> tuple[ReedWork, ...]:
        """The reeds that change their note."""
        return tuple(each for each in self.works if each.from_midi != each.to_midi)


class Purchase(NamedTuple):
    """So many harps of one kind to buy (or to take of those at hand), and what for.

    `used_for`: numbers of the conversions, from 1, that these very harps serve. `as_donor`: how
    many of the harps give reeds; the others become something else.
    """

    harp: Harp
    number: int
    used_for: tuple[int, ...]
    as_donor: int = 0


@dataclass(frozen=True, slots=True)
class WorkList:
    """Several conversions as one list: what to buy (donor harps too), what to do in what order.

    `order` is the bench order of all: (index of the conversion, index of its work), each work at
    its first turn; `steps.worklist_steps` has every stage and every turn. The first donor
    of every swap is the one that was chosen for it. `exact`: whether it is proven that no fewer
    harps would do. `from_hand`: harps that need not be bought, since they are there.
    """

    conversions: tuple[Conversion, ...]
    shopping: tuple[Purchase, ...]
    order: tuple[tuple[int, int], ...] = field(default=())
    exact: bool = True
    from_hand: tuple[Purchase, ...] = ()
