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

from dataclasses import dataclass
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

    def solve(self, most: int | None = None, by_effort: bool = False) -> Solved | None:
        """The best harps, `most` at most. `by_effort`: what they count does not matter.

        First as few tunes left out as can be, then harps that count least, then least effort
        of the tunes played, then fewest harps, then those early in the list (least sum of
        places). A harp that another one beats or equals on every tune is not taken. None where
        the harps that must be taken are too many.
        """
        model = _Model(self, self._undominated(by_effort), most)
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
        taken = self._tidy(model, easiest)
        return self._summed(
            taken, (covered.gap, fewest.gap if fewest is not None else 0, easiest.gap)
        )

    def _tidy(self, model: _Model, easiest: _Least) -> tuple[int, ...]:
        """Of all choices with so little effort the one with fewest harps, then the earliest.

        Nearly always there is but one, which is shown soonest by looking for another.
        """
        if not easiest.harps:
            return easiest.harps
        model.without(easiest.harps)
        other = model.minimise(model.effort)
        model.again()
        if other is None or other.value - other.gap > easiest.value:
            return easiest.harps
        model.hold(model.effort, easiest.value)
        tidy = model.minimise(model.places)
        return (tidy or easiest).harps

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

    def _undominated(self, by_effort: bool) -> Whole:
        """Harps that no other beats or equals in everything that matters; of equals the first.

        Those left can do whatever all can.
        """
        counts = np.zeros_like(self.counts) if by_effort else self.counts
        far = np.iinfo(np.int64).max
        cost = np.where(self.can, self.cost, far)
        kept = []
        limited = self.most_odd is not None
        for place in range(cost.shape[1]):
            if not self.must[place] and not self.can[:, place].any():
                continue
            rival = (cost <= cost[:, [place]]).all(axis=0) & (counts <= counts[place])
            better = (cost < cost[:, [place]]).any(axis=0) | (counts < counts[place])
            if limited:
                rival &= self.odd <= self.odd[place]
                better |= self.odd < self.odd[place]
            earlier = np.arange(len(better)) < place
            if self.must[place] or not (rival & (better | earlier)).any():
                kept.append(place)
        return np.array(kept, np.int64)


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
        self._refused: list[NDArray[np.bool_]] = []
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

        if not self._harps:
            return _Least((), self._value(aim, ()), 0) if self._empty_will_do() else None
        rows, least, most = self._all_rows()
        count = rows.shape[1]
        objective, constant = self._aim(aim, count)
        whole = np.zeros(count)
        whole[: self._harps] = 1.0
        found = milp(
            objective,
            constraints=LinearConstraint(rows, least, most),
            bounds=Bounds(*self._bounds(count)),
            integrality=whole,
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

    def without(self, harps: tuple[int, ...]) -> None:
        """From now on one of these harps at least is not taken."""
        self._refused.append(np.isin(self._kept, harps))

    def again(self) -> None:
        """Nothing is refused any more."""
        self._refused.clear()

    def _all_rows(self) -> tuple[Any, NDArray[np.float64], NDArray[np.float64]]:
        """Every row, with the least and the most that it may be worth."""
        from scipy.sparse import csr_array, vstack

        if self._made is None:
            self._made = self._rows()
        rows, lower = self._made
        count = rows.shape[1]
        further: list[NDArray[np.float64]] = []
        most: list[float] = []
        for held, value in self._held:
            vector, base = self._aim(held, count)
            further.append(vector)
            most.append(value - base)
        limits = (
            (np.ones(self._harps), self._most),
            (self._of.odd[self._kept].astype(np.float64), self._of.most_odd),
        )
        for weights, limit in limits:
            if limit is not None:
                further.append(np.concatenate([weights, np.zeros(count - self._harps)]))
                most.append(limit)
        for refused in self._refused:
            further.append(np.concatenate([refused, np.zeros(count - self._harps)]))
            most.append(int(refused.sum()) - 1)
        if not further:
            return rows, lower, np.full(len(lower), np.inf)
        return (
            vstack([rows, csr_array(np.stack(further))]).tocsr(),
            np.concatenate([lower, np.full(len(further), -np.inf)]),
            np.concatenate([np.full(len(lower), np.inf), most]),
        )

    def _bounds(self, count: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        least, most = np.zeros(count), np.ones(count)
        least[: self._harps] = self._of.must[self._kept]
        return least, most

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
