"""How hard a tune may be, and which harps one would rather have: laid over a table of efforts.

Public: `Limit`, `HarpWishes`, `Allowed`, `allowed`, `within_limit`, `is_odd`, `SetsError`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Harp
from reedwright.tab.difficulty.scale import HIGHEST, LOWEST
from reedwright.tab.sets.efforts import EffortTable

PLAIN = "richter"
"""The one tuning that every shop has; all others count as odd."""

THOUSANDTHS = 1000
"""Efforts a note are counted in whole thousandths, so that sums are exact and equal is equal."""


class SetsError(ReedwrightError):
    """A wish for harps, sets or an evening that cannot be followed."""


@dataclass(frozen=True, slots=True)
class Limit:
    """Within what effort a tune counts as playable; each that is not None must hold.

    `per_note`: effort a note at most. `above_best`: at most so much above the least effort a note
    of any harp that may be taken. `no_bends`: neither bends nor overblows nor overdraws. `missing`:
    notes that may be missing. `grade`: at most so hard, of a table that was graded.
    """

    per_note: float | None = None
    above_best: float | None = None
    no_bends: bool = False
    missing: int = 0
    grade: float | None = None

    def __post_init__(self) -> None:
        for name, figure in (("a note", self.per_note), ("above the best", self.above_best)):
            if figure is not None and not 0 <= figure < float("inf"):
                raise SetsError(f"Effort {name} of {figure:g}: give 0 or more.")
        if self.grade is not None and not LOWEST <= self.grade <= HIGHEST:
            raise SetsError(f"Grade {self.grade:g}: give {LOWEST:g} to {HIGHEST:g}.")
        if self.missing < 0:
            raise SetsError(f"{self.missing} missing notes: give 0 or more.")

    @property
    def words(self) -> str:
        """`without bends, at most 0.80 effort a note`; empty where all is allowed."""
        said = []
        if self.no_bends:
            said.append("without bends")
        if self.per_note is not None:
            said.append(f"at most {self.per_note:.2f} effort a note")
        if self.above_best is not None:
            said.append(f"at most {self.above_best:.2f} a note above the tune's best harp")
        if self.grade is not None:
            said.append(f"grade {self.grade:g} at most")
        return ", ".join(said)


@dataclass(frozen=True, slots=True)
class HarpWishes:
    """Which harps may be taken, and how much each counts.

    `owned` harps count as `owned_counts` (0 to 1) of a harp, all others as one. `must` are taken
    whatever they bring, `never` are not. `odd`: tunings other than plain Richter allowed;
    `most_odd`: so many harps of such at most. `slides`: harps with a slide, another instrument,
    allowed; those owned always are. `registers` of the harps that may be taken. `most`: harps
    in all.
    """

    owned: tuple[Harp, ...] = ()
    owned_counts: float = 1.0
    must: tuple[Harp, ...] = ()
    never: tuple[Harp, ...] = ()
    odd: bool = True
    most_odd: int | None = None
    slides: bool = False
    registers: tuple[str, ...] = ("low", "ordinary", "high")
    most: int | None = None

    def __post_init__(self) -> None:
        if not 0 <= self.owned_counts <= 1:
            raise SetsError(f"An owned harp counts {self.owned_counts:g}: give 0 to 1.")
        for name, number in (("harps", self.most), ("harps of odd tunings", self.most_odd)):
            if number is not None and number < 0:
                raise SetsError(f"At most {number} {name}: give 0 or more.")
        both = [harp.name for harp in self.must if harp in self.never]
        if both:
            raise SetsError(f"The {both[0]} is to be taken and never to be taken; drop one wish.")
        if self.most is not None and len(set(self.must)) > self.most:
            raise SetsError(
                f"{len(set(self.must))} harps are to be taken, and {self.most} at most; "
                "allow more or ask for fewer."
            )

    def takes(self, harp: Harp) -> bool:
        """Whether the harp may be among those taken."""
        if harp in self.never:
            return False
        if harp in self.must or harp in self.owned:
            return True
        if harp.tuning.slide and not self.slides:
            return False
        return harp.register in self.registers and (self.odd or not is_odd(harp))

    def counts(self, harp: Harp) -> int:
        """What the harp counts, in thousandths of a harp."""
        owned = harp in self.owned
        return round(THOUSANDTHS * self.owned_counts) if owned else THOUSANDTHS


def is_odd(harp: Harp) -> bool:
    """Whether its tuning is another than plain Richter."""
    return harp.tuning.name != PLAIN


class Allowed(NamedTuple):
    """A table within a limit, of shape (tunes, harps).

    `cost`: effort a note in whole thousandths; `move`: place among the table's moves, the first by
    the order of `rank_harps` among those within the limit. `can`: whether there is any such.
    """

    can: NDArray[np.bool_]
    cost: NDArray[np.int64]
    move: NDArray[np.int64]


def allowed(table: EffortTable, limit: Limit, among: NDArray[np.bool_] | None = None) -> Allowed:
    """Which tunes each harp plays within the limit, and how.

    `among`: the harps that a tune's best is looked for among; all of the table where None.
    """
    within = within_limit(table, limit, among)
    cost = _thousandths(table)
    # As `rank_harps` orders one harp's moves: missing notes, effort with preference, nearness.
    near = [(abs(octaves), abs(semitones)) for octaves, semitones in table.moves]
    shape = table.missing.shape
    keys = (
        np.broadcast_to(np.array([semitones for _, semitones in near]), shape),
        np.broadcast_to(np.array([octaves for octaves, _ in near]), shape),
        table.per_note + table.preference,
        table.missing,
        ~within,
    )
    move = np.lexsort(keys, axis=-1)[..., 0] if table.moves else np.zeros(shape[:2], np.int64)
    at = move[..., None]
    can: NDArray[np.bool_] = np.asarray(within.any(axis=2))
    return Allowed(can, np.take_along_axis(cost, at, axis=2)[..., 0], move.astype(np.int64))


def within_limit(
    table: EffortTable, limit: Limit, among: NDArray[np.bool_] | None = None
) -> NDArray[np.bool_]:
    """Which tunes are within the limit on which harp in which move; `among` as in `allowed`.

    Raises `SetsError` where the limit speaks of grades and the table has none.
    """
    within = (table.missing >= 0) & (table.missing <= limit.missing)
    cost = _thousandths(table)
    if limit.no_bends:
        within &= (table.bends == 0) & (table.overblows == 0)
    if limit.per_note is not None:
        within &= cost <= round(THOUSANDTHS * limit.per_note)
    if limit.above_best is not None and cost.size:
        complete = (table.missing >= 0) & (table.missing <= limit.missing)
        if among is not None:
            complete &= among[:, None]
        far = np.iinfo(np.int64).max // 2
        best = np.where(complete, cost, far).min(axis=(1, 2), keepdims=True)
        within &= cost <= best + round(THOUSANDTHS * limit.above_best)
    if limit.grade is not None:
        if table.grade is None:
            raise SetsError("A limit of the grade needs a table with grades.")
        within &= table.grade <= limit.grade  # not a number is beyond
    return within


def _thousandths(table: EffortTable) -> NDArray[np.int64]:
    return np.rint(THOUSANDTHS * table.per_note).astype(np.int64)
