"""The integer programme behind the fewest harps: which to take, so that the list costs least.

For each tune the efforts that it may take stand in order, as levels. A tune pays the step from one
level to the next as long as none of the harps up to there is taken (the p-median problem as
S. Elloumi wrote it down: "A tighter formulation of the p-median problem", Journal of Combinatorial
Optimization 19, 2010; from memory). Only whether a harp is taken is a whole number; the rest
follows. All figures are whole, and the answer is worked out again from the harps taken, so nothing
hangs on rounding.

HiGHS solves it through `scipy.optimize.milp`, one aim after the other: tunes left out, what the
harps count, effort, number of harps and their places in the list.

Public: `Programme`, `Solved`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

Whole = NDArray[np.int64]

LONGEST_SECONDS = 60.0  # for each aim
_ROUNDING = 1e-4  # what a bound of whole numbers may lie off through the solver's own tolerance


class Solved(NamedTuple):
    """Harps taken (places), tunes left out (places), and the sums.

    `counts` in thousandths of a harp, `effort` in thousandths. `gap`: by how much at most each aim
    could be better (tunes, thousandths of a harp, thousandths of effort); all 0 where proven.
    """

    harps: tuple[int, ...]
    left_out: tuple[int, ...]
    counts: int
    effort: int
    gap: tuple[int, int, int]

    @property
    def proven(self) -> bool:
        return not any(self.gap)


@dataclass(slots=True)
class Programme:
    """`can` and `cost` of shape (tunes, harps), cost in whole thousandths; `counts`, `odd`, `must`
    of length harps. `seconds`: the longest that each aim may take."""

    can: NDArray[np.bool_]
    cost: Whole
    counts: Whole
    odd: NDArray[np.bool_]
    must: NDArray[np.bool_]
    most_odd: int | None = None
    seconds: float = LONGEST_SECONDS
    _kept: Whole = field(init=False)

    def __post_init__(self) -> None:
        self._kept = self._undominated()

    def solve(self, most: int | None = None, by_effort: bool = False) -> Solved | None:
        """The best harps, `most` at most. `by_effort`: what they count does not matter.

        First as few tunes left out as can be, then harps that count least, then least effort
        of the tunes played, then fewest harps, then those early in the list (least sum of
        places). None where the harps that must be taken are too many.
        """
        model = _Model(self, self._kept, most)
        covered = model.minimise(model.left_out)
        if covered is None:
            return None
        model.hold(model.left_out, covered.value)
        fewest = None
        if not by_effort:
            fewest = model.minimise(model.counts)
            if fewest is None:
                return None
            model.hold(model.counts, fewest.value)
        model.with_levels()
        easiest = model.minimise(model.effort)
        if easiest is None:
            return None
        model.hold(model.effort, easiest.value)
        tidy = model.minimise(model.places)
        taken = (tidy or easiest).harps
        return self._summed(
            taken, (covered.gap, fewest.gap if fewest is not None else 0, easiest.gap)
        )

    def _summed(self, harps: tuple[int, ...], gap: tuple[int, int, int]) -> Solved:
        rows = list(harps)
        played = self.can[:, rows].any(axis=1) if rows else np.zeros(len(self.can), bool)
        far = np.iinfo(np.int64).max
        least = np.where(self.can[:, rows], self.cost[:, rows], far).min(axis=1, initial=far)
        return Solved(
            harps,
            tuple(int(place) for place in np.flatnonzero(~played)),
            int(self.counts[rows].sum()),
            int(least[played].sum()),
            gap,
        )

    def _undominated(self) -> Whole:
        """Harps that no other beats or equals in everything; of equals the first."""
        far = np.iinfo(np.int64).max
        cost = np.where(self.can, self.cost, far)
        kept = []
        limited = self.most_odd is not None
        for place in range(cost.shape[1]):
            if self.must[place]:
                kept.append(place)
                continue
            if not self.can[:, place].any():
                continue
            no_worse = (cost <= cost[:, place : place + 1]).all(axis=0)
            no_worse &= self.counts <= self.counts[place]
            if limited and not self.odd[place]:
                no_worse &= ~self.odd
            no_worse[place] = False
            rivals = np.flatnonzero(no_worse)
            if not any(self._beats(int(rival), place, cost) for rival in rivals):
                kept.append(place)
        return np.array(kept, np.int64)

    def _beats(self, rival: int, place: int, cost: Whole) -> bool:
        """Whether of two harps, the rival no worse, the rival is better or stands earlier."""
        same = (
            bool((cost[:, rival] == cost[:, place]).all())
            and self.counts[rival] == self.counts[place]
            and (self.most_odd is None or self.odd[rival] == self.odd[place])
        )
        # One that must be taken is there anyway.
        return not same or rival < place or bool(self.must[rival])


class _Least(NamedTuple):
    """The harps of the best answer found, its value, and how far from the proven bound it is."""

    harps: tuple[int, ...]
    value: int
    gap: int


class _Model:
    """Unknowns: harps taken; tunes left out; for each tune and level but the last, whether it pays
    the step beyond (only once `with_levels` was called)."""

    def __init__(self, programme: Programme, kept: Whole, most: int | None) -> None:
        self._of = programme
        self._kept = kept
        self._can = programme.can[:, kept]
        self._cost = programme.cost[:, kept]
        self._tunes, self._harps = self._can.shape
        self._levels = False
        self._most = most
        self._held: list[tuple[str, int]] = []
        self._steps = np.zeros(0, np.int64)
        self._made: tuple[Any, NDArray[np.float64]] | None = None

    # The aims, each as its name for `minimise` and `hold`.
    left_out, counts, effort, places = "left_out", "counts", "effort", "places"

    def with_levels(self) -> None:
        self._levels, self._made = True, None

    def hold(self, aim: str, value: int) -> None:
        """From now on the aim is worth `value` at most."""
        self._held.append((aim, value))

    def minimise(self, aim: str) -> _Least | None:
        """None where there is no answer, or none was found in time."""
        from scipy.optimize import Bounds, LinearConstraint, milp
        from scipy.sparse import csr_array

        if self._made is None:
            self._made = self._rows()
        rows, lower = self._made
        count = rows.shape[1]
        objective, constant = self._aim(aim, count)
        if not self._harps:
            return _Least((), self._value(aim, ()), 0) if self._empty_will_do() else None
        constraints: list[Any] = [LinearConstraint(rows, lower, np.inf)]
        for held, value in self._held:
            vector, base = self._aim(held, count)
            constraints.append(LinearConstraint(csr_array(vector[None, :]), -np.inf, value - base))
        taken = np.zeros(count)
        taken[: self._harps] = 1.0
        if self._most is not None:
            constraints.append(LinearConstraint(csr_array(taken[None, :]), -np.inf, self._most))
        if self._of.most_odd is not None:
            odd = np.zeros(count)
            odd[: self._harps] = self._of.odd[self._kept]
            constraints.append(
                LinearConstraint(csr_array(odd[None, :]), -np.inf, self._of.most_odd)
            )
        least = np.zeros(count)
        least[: self._harps] = self._of.must[self._kept]
        found = milp(
            objective,
            constraints=constraints,
            bounds=Bounds(least, 1.0),
            integrality=taken,
            options={"time_limit": self._of.seconds, "mip_rel_gap": 0.0},
        )
        if found.x is None:
            return None
        chosen = np.flatnonzero(found.x[: self._harps] > 0.5)
        harps = tuple(int(place) for place in self._kept[chosen])
        value = self._value(aim, harps)
        bound = constant + (found.fun if found.mip_dual_bound is None else found.mip_dual_bound)
        gap = max(0, value - int(np.ceil(bound - _ROUNDING)))
        return _Least(harps, value, gap)

    def _empty_will_do(self) -> bool:
        return all(value >= self._value(held, ()) for held, value in self._held)

    def _value(self, aim: str, harps: tuple[int, ...]) -> int:
        """The aim worked out again from the harps alone."""
        if aim == self.places:
            return sum(self._place_worth() + place for place in harps)
        solved = self._of._summed(harps, (0, 0, 0))
        values = {
            self.left_out: len(solved.left_out),
            self.counts: solved.counts,
            self.effort: solved.effort,
        }
        return values[aim]

    def _place_worth(self) -> int:
        """What one harp more weighs against places: more than all places of all harps."""
        return int(self._of.can.shape[1]) ** 2

    def _aim(self, aim: str, count: int) -> tuple[NDArray[np.float64], int]:
        """Coefficients of the unknowns, and what is added to their sum."""
        vector = np.zeros(count)
        if aim == self.left_out:
            vector[self._harps : self._harps + self._tunes] = 1.0
            return vector, 0
        if aim == self.counts:
            vector[: self._harps] = self._of.counts[self._kept]
            return vector, 0
        if aim == self.places:
            vector[: self._harps] = self._kept + self._place_worth()
            return vector, 0
        far = np.iinfo(np.int64).max
        first = np.where(self._can, self._cost, far).min(axis=1, initial=far)
        first = np.where(self._can.any(axis=1), first, 0)
        vector[self._harps : self._harps + self._tunes] = -first
        vector[self._harps + self._tunes :] = self._steps
        return vector, int(first.sum())

    def _rows(self) -> tuple[Any, NDArray[np.float64]]:
        """Rows that are at least `lower`: each tune is played or left out; and the levels."""
        from scipy.sparse import csr_array

        row_of: list[int] = []
        column: list[int] = []
        value: list[float] = []
        lower: list[float] = []
        steps: list[int] = []
        next_step = self._harps + self._tunes

        def put(at: int, weight: float) -> None:
            row_of.append(len(lower))
            column.append(at)
            value.append(weight)

        for tune in range(self._tunes):
            can = np.flatnonzero(self._can[tune])
            levels = np.unique(self._cost[tune, can]) if self._levels else np.zeros(0, np.int64)
            if len(levels) < 2:
                for harp in can:
                    put(int(harp), 1.0)
                put(self._harps + tune, 1.0)
                lower.append(1.0)
                continue
            for place, level in enumerate(levels):
                for harp in can[self._cost[tune, can] == level]:
                    put(int(harp), 1.0)
                if place == 0:
                    put(self._harps + tune, 1.0)
                else:
                    put(next_step - 1, -1.0)
                if place < len(levels) - 1:
                    put(next_step, 1.0)
                    steps.append(int(levels[place + 1] - level))
                    next_step += 1
                lower.append(1.0 if place == 0 else 0.0)
        self._steps = np.array(steps, np.int64)
        shape = (len(lower), next_step)
        return csr_array((value, (row_of, column)), shape=shape), np.array(lower)
