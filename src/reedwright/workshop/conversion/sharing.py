"""Which harps to buy for their reeds, so that as few as possible give all reeds that are wanted.

A harp that is bought gives each of its reeds once. So many harps of each kind are wanted that every
swap has a reed of its own: a covering problem, which HiGHS (through `scipy.optimize.milp`)
solves exactly: first the fewest to buy, then the fewest of those at hand to take apart, then of
all ways with so few the least left to do.

Public: `choose_donors`, `Chosen`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from reedwright.harp.model import Harp, Reed
from reedwright.workshop.conversion.donors import donor_cost
from reedwright.workshop.conversion.model import Donor

LONGEST_SECONDS = 20.0  # for each of the two questions; usual ones take some hundredths
_TIE = 1e-5  # cost: of equal donors the earlier in its list
_BOUGHT, _TAKEN = 1000.0, 1.0  # one more to buy outweighs all that are at hand


class Swap(NamedTuple):
    """A reed to be swapped, the donors that would do, best first, and the harp that it is in."""

    reed: Reed
    donors: tuple[Donor, ...]
    harp: Harp


class Chosen(NamedTuple):
    """For each swap its donor; how many harps of each kind that takes, bought or at hand; whether
    it is proven that no fewer would do."""

    donors: tuple[Donor, ...]
    harps: dict[Harp, int]
    exact: bool


def choose_donors(swaps: Sequence[Swap], at_hand: Mapping[Harp, int] | None = None) -> Chosen:
    """The donors of all swaps together. Each swap must have one at least.

    `at_hand`: so many of each kind are there and need not be bought.
    """
    if not swaps:
        return Chosen((), {}, True)
    kinds = list(dict.fromkeys(donor.harp for swap in swaps for donor in swap.donors))
    model = _Model(swaps, kinds, at_hand or {})
    fewest = model.solve(model.harps, None)
    if fewest is None:
        return _each_its_best(swaps)
    cheapest = model.solve(model.costs, round(model.harps @ fewest.x))
    best = fewest if cheapest is None else cheapest
    return _counted(model.read(best.x), fewest.status == 0)


class _Model:
    """Unknowns: how many of each kind to buy, how many to take of those at hand, then for each swap
    whether it takes each of its donors."""

    def __init__(
        self, swaps: Sequence[Swap], kinds: list[Harp], at_hand: Mapping[Harp, int]
    ) -> None:
        import numpy as np

        self.swaps, self.kinds = swaps, kinds
        self.takes = [(s, d) for s, swap in enumerate(swaps) for d in range(len(swap.donors))]
        self.first = 2 * len(kinds)  # of the unknowns that are choices
        count = self.first + len(self.takes)
        self.harps = np.zeros(count)
        self.harps[: len(kinds)] = _BOUGHT
        self.harps[len(kinds) : self.first] = _TAKEN
        self.costs = np.zeros(count)
        for k, (s, d) in enumerate(self.takes, start=self.first):
            self.costs[k] = donor_cost(swaps[s].donors[d], swaps[s].harp, swaps[s].reed) + _TIE * d
        self.most = np.ones(count)
        self.most[: len(kinds)] = len(swaps)
        self.most[len(kinds) : self.first] = [at_hand.get(kind, 0) for kind in kinds]

    def solve(self, objective: Any, limit: float | None) -> Any:
        """The best values, with `harps` worth `limit` at most; None where none were found."""
        import numpy as np
        from scipy.optimize import Bounds, milp

        found = milp(
            objective,
            constraints=self._constraints(limit),
            bounds=Bounds(0.0, self.most),
            integrality=np.ones(len(objective)),
            options={"time_limit": LONGEST_SECONDS, "mip_rel_gap": 0.0},
        )
        return None if found.x is None else found

    def _constraints(self, limit: float | None) -> list[Any]:
        import numpy as np
        from scipy.optimize import LinearConstraint
        from scipy.sparse import lil_array

        place = {kind: k for k, kind in enumerate(self.kinds)}
        # Each swap takes one donor; each reed of a kind is taken as often as there are harps of it.
        reeds: dict[tuple[int, Reed], list[int]] = {}
        once = lil_array((len(self.swaps), len(self.harps)))
        for k, (s, d) in enumerate(self.takes, start=self.first):
            donor = self.swaps[s].donors[d]
            once[s, k] = 1.0
            reeds.setdefault((place[donor.harp], donor.reed), []).append(k)
        supply = lil_array((len(reeds), len(self.harps)))
        for row, ((kind, _), takers) in enumerate(reeds.items()):
            supply[row, kind] = supply[row, len(self.kinds) + kind] = -1.0
            for k in takers:
                supply[row, k] = 1.0
        found = [
            LinearConstraint(once.tocsr(), 1.0, 1.0),
            LinearConstraint(supply.tocsr(), -np.inf, 0.0),
        ]
        if limit is not None:
            found.append(LinearConstraint(self.harps, -np.inf, limit))
        return found

    def read(self, values: Any) -> tuple[Donor, ...]:
        chosen: dict[int, Donor] = {}
        for k, (s, d) in enumerate(self.takes, start=self.first):
            if values[k] > 0.5:
                chosen[s] = self.swaps[s].donors[d]
        return tuple(chosen[s] for s in range(len(self.swaps)))


def _each_its_best(swaps: Sequence[Swap]) -> Chosen:
    return _counted(tuple(swap.donors[0] for swap in swaps), False)


def _counted(donors: tuple[Donor, ...], exact: bool) -> Chosen:
    """So many of each kind as its most wanted reed is taken."""
    taken = Counter((donor.harp, donor.reed) for donor in donors)
    harps: dict[Harp, int] = {}
    for (harp, _), times in taken.items():
        harps[harp] = max(harps.get(harp, 0), times)
    return Chosen(donors, harps, exact)
