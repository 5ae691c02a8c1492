"""Which tunes make sets, and in which order: the cheapest sets that share no tune.

Each possible set (its tunes in order, each on a harp) is a column of an integer programme that
takes each tune once at most. Where there are few enough, all are written down, and the answer is
exact. From a large pool those that could help are found one after another by the shadow prices of
the tunes (column generation; see any textbook of integer programming), until none is left or the
rounds are over; then the best of those found is taken. What no answer can beat is told beside it:
the bound by Lasdon ("Optimization Theory for Large Systems", 1970; from memory), which holds
although not all sets were looked at. Nothing is left to chance: the same tunes give the same sets.

Public: `make_sets`, `MadeSets`, `Quota`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.tab.sets.rules import SetRules
from reedwright.tab.sets.stepping import Bench, size_cost

LEFT_OUT = 100.0  # cost of a tune that is to be played and stands in no set, or of a set that is
# not made: far more than any set
MOST_WRITTEN_DOWN = 20_000  # sets; as many are solved in some seconds, if all of them are there
_MOST_WIDER = 6_000  # sets besides those that the prices call for
MOST_LOOKED_AT = 60_000  # ways through sets
ROUNDS = 40
_WIDENED = 4  # times that further sets are looked for
LONGEST_SECONDS = 20.0
_KEPT = 3  # ways to each node that are followed up
_NEW = 300  # sets taken up in a round
_NOTHING = 1e-6  # cost

Nodes = tuple[int, ...]


class MadeSets(NamedTuple):
    """Sets as nodes in order; their cost (and that of what is left out); what none can beat."""

    sets: tuple[Nodes, ...]
    cost: float
    bound: float

    @property
    def proven(self) -> bool:
        return self.cost - self.bound <= _PROVEN


_PROVEN = 1e-4  # cost; what the solver's own tolerance may add up to


class Quota(NamedTuple):
    """Sets that begin with one of these nodes are `most` at most; each more costs `over`."""

    nodes: NDArray[np.bool_]
    most: int
    over: float


class _Asked(NamedTuple):
    bench: Bench
    rules: SetRules
    number: int | None
    needed: NDArray[np.bool_]
    apart: frozenset[tuple[int, int]]
    quotas: tuple[Quota, ...]

    def put(self, best: dict[tuple[object, ...], tuple[float, Nodes]], nodes: Nodes) -> None:
        """Puts a set among the best, unless one of the same tunes and beginning is no dearer."""
        kinds = tuple(bool(quota.nodes[nodes[0]]) for quota in self.quotas)
        same = (frozenset(int(self.bench.tune[node]) for node in nodes), kinds)
        cost = self.bench.cost(nodes, self.rules)
        if same not in best or cost < best[same][0]:
            best[same] = (cost, nodes)

    def breaks(self, nodes: Nodes) -> bool:
        """Whether a set breaks a rule that is not one of neighbours."""
        if self.rules.set_minutes is not None:
            least, most = self.rules.set_minutes
            minutes = float(self.bench.seconds[list(nodes)].sum()) / 60
            if not least <= minutes <= most:
                return True
        tunes = [int(self.bench.tune[node]) for node in nodes]
        return any(
            (one, two) in self.apart or (two, one) in self.apart
            for place, one in enumerate(tunes)
            for two in tunes[place + 1 :]
        )


def make_sets(
    bench: Bench,
    rules: SetRules,
    number: int | None,
    needed: NDArray[np.bool_],
    apart: frozenset[tuple[int, int]] = frozenset(),
    ready: Sequence[Nodes] = (),
    quotas: Sequence[Quota] = (),
) -> MadeSets:
    """The cheapest sets; `number` of them, or as many as it takes.

    `needed`, by tune: it must be played, and is left out only where it cannot be. `apart`: pairs
    of tunes. `ready`: sets that may be taken as they are, whatever their length. `quotas`: of the
    kinds of sets.
    """
    asked = _Asked(bench, rules, number, needed, apart, tuple(quotas))
    columns = list(dict.fromkeys(tuple(each) for each in ready))
    few = _all_sets(asked)
    if few is not None:
        columns += few
        chosen, cost, bound = _whole(asked, columns)
        return MadeSets(chosen, cost, bound)
    known = set(columns)
    bound = -np.inf
    for _ in range(ROUNDS):
        value, prices, begin = _relaxed(asked, columns)
        new, cheapest = _priced(asked, prices, begin)
        fresh = [nodes for nodes in new if nodes not in known]
        if not fresh and cheapest < -_NOTHING:
            # The bound counts walks that meet a tune twice; look whether any real set is below.
            missed = _all_within(asked, prices, begin, -2 * _NOTHING)
            if missed is not None:
                cheapest = -2 * _NOTHING if not missed else cheapest
                fresh = [nodes for nodes in missed if nodes not in known]
        bound = max(bound, value + _most_sets(asked) * min(0.0, cheapest))
        if not fresh or value - bound <= _NOTHING:
            break
        known.update(fresh)
        columns += fresh
    chosen, cost, _ = _whole(asked, columns)
    beyond = cost - bound
    for _ in range(_WIDENED):
        if cost - bound <= _PROVEN or cheapest < -2 * _NOTHING:
            break
        # No set that costs more beyond its tunes' prices than all the gap can be part of a better
        # answer. Where those are too many to be written down, those that cost less may do.
        more = _all_within(asked, prices, begin, beyond)
        if more is None:
            beyond /= 2
            continue
        complete = beyond >= cost - bound
        other, its, proven = _whole(asked, list(dict.fromkeys([*columns, *more])))
        if its < cost:
            chosen, cost = other, its
        if complete:
            bound = max(bound, proven)
            break
        beyond = cost - bound
    return MadeSets(chosen, cost, min(bound, cost))


def _most_sets(asked: _Asked) -> int:
    if asked.number is not None:
        return asked.number
    return len(asked.needed) // asked.rules.fewest + 1


def _all_sets(asked: _Asked) -> list[Nodes] | None:
    """Every set there is, of those with the same tunes and beginning the cheapest; None where they
    are more than can be written down."""
    best: dict[tuple[object, ...], tuple[float, Nodes]] = {}
    for looked, nodes in enumerate(_walks(asked)):
        if looked > MOST_LOOKED_AT or len(best) > MOST_WRITTEN_DOWN:
            return None
        if len(nodes) < asked.rules.fewest or not asked.bench.ends[nodes[-1]]:
            continue
        if asked.breaks(nodes):
            continue
        asked.put(best, nodes)
    return [nodes for _, nodes in best.values()]


def _walks(asked: _Asked) -> Iterator[Nodes]:
    bench = asked.bench
    after = [np.flatnonzero(np.isfinite(row)).tolist() for row in bench.step]
    waiting: list[Nodes] = [(int(node),) for node in np.flatnonzero(bench.begins)[::-1]]
    tune = bench.tune.tolist()
    while waiting:
        nodes = waiting.pop()
        yield nodes
        if len(nodes) == asked.rules.most:
            continue
        here = {tune[node] for node in nodes}
        waiting += [(*nodes, node) for node in after[nodes[-1]][::-1] if tune[node] not in here]


def _programme(asked: _Asked, columns: Sequence[Nodes]) -> tuple[Any, ...]:
    """Costs, rows, least and most of each row: one for each tune, the number of sets, the quotas.

    After the columns come the tunes left out, the sets not made, the sets beyond each quota.
    """
    from scipy.sparse import csr_array

    tunes = len(asked.needed)
    quotas = len(asked.quotas)
    costs = np.full(len(columns) + tunes + 1 + quotas, LEFT_OUT)
    cells: list[tuple[int, int, float]] = []
    for at, nodes in enumerate(columns):
        costs[at] = asked.bench.cost(nodes, asked.rules)
        cells += [(int(asked.bench.tune[node]), at, 1.0) for node in nodes]
        cells.append((tunes, at, 1.0))
        cells += [
            (tunes + 1 + place, at, 1.0)
            for place, quota in enumerate(asked.quotas)
            if quota.nodes[nodes[0]]
        ]
    cells += [(tune, len(columns) + tune, 1.0) for tune in range(tunes + 1)]
    for place, quota in enumerate(asked.quotas):
        cells.append((tunes + 1 + place, len(columns) + tunes + 1 + place, -1.0))
        costs[len(columns) + tunes + 1 + place] = quota.over
    row, column, value = zip(*cells, strict=True)
    rows = csr_array((value, (row, column)), shape=(tunes + 1 + quotas, len(costs)))
    number = asked.number
    least = np.concatenate(
        [np.where(asked.needed, 1.0, 0.0), [number or 0.0], np.full(quotas, -np.inf)]
    )
    most = np.concatenate(
        [
            np.ones(tunes),
            [np.inf if number is None else number],
            [float(quota.most) for quota in asked.quotas],
        ]
    )
    return costs, rows, least, most


def _whole(asked: _Asked, columns: Sequence[Nodes]) -> tuple[tuple[Nodes, ...], float, float]:
    from scipy.optimize import Bounds, LinearConstraint, milp

    costs, rows, least, most = _programme(asked, columns)
    upper = np.ones(len(costs))
    upper[len(columns) + len(asked.needed) :] = len(asked.needed)
    found = milp(
        costs,
        constraints=LinearConstraint(rows, least, most),
        bounds=Bounds(0.0, upper),
        integrality=np.ones(len(costs)),
        options={"time_limit": LONGEST_SECONDS, "mip_rel_gap": 0.0},
    )
    if found.x is None:  # nothing found in time: all left out
        return (), float(costs[len(columns) :].sum()), -np.inf
    taken = found.x > 0.5
    chosen = tuple(nodes for at, nodes in enumerate(columns) if taken[at])
    cost = float(costs @ np.rint(found.x))
    return chosen, cost, min(cost, float(found.mip_dual_bound))


def _relaxed(
    asked: _Asked, columns: Sequence[Nodes]
) -> tuple[float, NDArray[np.float64], NDArray[np.float64]]:
    """Value of the relaxation, the price of each tune, and of a set by its first node."""
    from scipy.optimize import linprog
    from scipy.sparse import vstack

    costs, rows, least, most = _programme(asked, columns)
    above, below = least > 0, np.isfinite(most)
    found = linprog(
        costs,
        A_ub=vstack([-rows[above], rows[below]]),
        b_ub=np.concatenate([-least[above], most[below]]),
        bounds=(0, None),
        method="highs",
    )
    marginals = found.ineqlin.marginals
    prices = np.zeros(len(least))
    prices[above] -= marginals[: int(above.sum())]
    prices[below] += marginals[int(above.sum()) :]
    tunes = len(asked.needed)
    begin = np.full(len(asked.bench.own), prices[tunes])
    for quota, price in zip(asked.quotas, prices[tunes + 1 :], strict=True):
        begin[quota.nodes] += price
    return float(found.fun), prices[:tunes], begin


def _priced(
    asked: _Asked, prices: NDArray[np.float64], begin: NDArray[np.float64]
) -> tuple[list[Nodes], float]:
    """Sets that cost less than their tunes' prices, cheapest first; and what no set is below."""
    from scipy.sparse.csgraph import connected_components

    bench = asked.bench
    own = bench.own - prices[bench.tune]
    _, part = connected_components(np.isfinite(bench.step), directed=False)
    found: list[tuple[float, Nodes]] = []
    cheapest = np.inf
    for number in range(int(part.max(initial=-1)) + 1):
        nodes = np.flatnonzero(part == number)
        some, least = _priced_among(asked, nodes, own[nodes], begin[nodes])
        found += some
        cheapest = min(cheapest, least)
    found.sort()
    return [nodes for _, nodes in found[:_NEW]], cheapest


def _priced_among(
    asked: _Asked,
    nodes: NDArray[np.int64],
    own: NDArray[np.float64],
    begin: NDArray[np.float64],
) -> tuple[list[tuple[float, Nodes]], float]:
    bench, rules = asked.bench, asked.rules
    step = bench.step[np.ix_(nodes, nodes)]
    tune = bench.tune[nodes]
    ends = bench.ends[nodes]
    start = np.where(bench.begins[nodes], own - begin, np.inf)
    loose = start  # cheapest walk to each node, tunes met twice allowed: a bound
    ways = np.arange(len(nodes))[:, None, None]  # (node, way, place in the set)
    cost = start[:, None]
    found: list[tuple[float, Nodes]] = []
    cheapest = np.inf
    for size in range(1, rules.most + 1):
        if size > 1:
            loose = (loose[:, None] + step).min(axis=0) + own
            cost, ways = _onward(cost, ways, step, own, tune)
        if size < rules.fewest:
            continue
        extra = size_cost(size, rules)
        cheapest = min(cheapest, float(np.where(ends, loose, np.inf).min()) + extra)
        good = (cost + extra < -_NOTHING) & ends[:, None]
        for node, way in np.argwhere(good):
            walk = tuple(int(nodes[place]) for place in ways[node, way])
            if not asked.breaks(walk):
                found.append((float(cost[node, way] + extra), walk))
    return found, cheapest


def _all_within(
    asked: _Asked, prices: NDArray[np.float64], begin: NDArray[np.float64], gap: float
) -> list[Nodes] | None:
    """Every set that costs at most `gap` beyond its tunes' prices, of those with the same tunes and
    beginning the cheapest; None where they are more than can be written down."""
    bench, rules = asked.bench, asked.rules
    own = bench.own - prices[bench.tune]
    start = np.where(bench.begins, own - begin, np.inf)
    # What it takes at least to end a set of which so many tunes are to come.
    to_come = [np.where(bench.ends, 0.0, np.inf)]
    for _ in range(rules.most - 1):
        to_come.append((bench.step + (own + to_come[-1])[None, :]).min(axis=1))
    best: dict[tuple[object, ...], tuple[float, Nodes]] = {}
    looked = 0
    for size in range(rules.fewest, rules.most + 1):
        room = gap + _NOTHING - size_cost(size, rules)
        within = np.flatnonzero(start + to_come[size - 1] <= room)
        waiting: list[tuple[Nodes, float]] = [((int(node),), float(start[node])) for node in within]
        while waiting:
            nodes, so_far = waiting.pop()
            looked += 1
            if looked > MOST_LOOKED_AT or len(best) > _MOST_WIDER:
                return None
            if len(nodes) == size:
                if not asked.breaks(nodes):
                    asked.put(best, nodes)
                continue
            onward = so_far + bench.step[nodes[-1]] + own
            met = {int(bench.tune[node]) for node in nodes}
            for node in np.flatnonzero(onward + to_come[size - len(nodes) - 1] <= room):
                if int(bench.tune[node]) not in met:
                    waiting.append(((*nodes, int(node)), float(onward[node])))
    return [nodes for _, nodes in best.values()]


def _onward(
    cost: NDArray[np.float64],
    ways: NDArray[np.int64],
    step: NDArray[np.float64],
    own: NDArray[np.float64],
    tune: NDArray[np.int64],
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """The cheapest ways to each node that are one node longer and meet no tune twice."""
    count, kept, size = ways.shape
    longer_cost = np.full((count, _KEPT), np.inf)
    longer = np.zeros((count, _KEPT, size + 1), np.int64)
    flat = ways.reshape(count * kept, size)
    ends = np.repeat(np.arange(count), kept)
    met = tune[flat]
    for node in range(count):
        onward = cost.ravel() + step[ends, node]
        onward[(met == tune[node]).any(axis=1)] = np.inf
        take = min(_KEPT, len(onward))
        best = np.argpartition(onward, take - 1)[:take]
        best = best[np.argsort(onward[best], kind="stable")]
        longer_cost[node, :take] = onward[best] + own[node]
        longer[node, :take, :size] = flat[best]
        longer[node, :, size] = node
    return longer_cost, longer
