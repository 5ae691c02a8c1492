"""One set put in order, and an evening of sets from a list or a pool of tunes.

A set is put in order exactly. For an evening first the harps are chosen (where there are more than
can be carried), then the sets (`setmaking`), then their order, each exactly or with a bound that is
told. docs/sets.md has the rules.

Public: `order_set`, `plan_evening`, `PlannedEvening`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reedwright.tab.sets.efforts import EffortTable
from reedwright.tab.sets.fewest import LeftOut, why_left_out
from reedwright.tab.sets.joins import Place, falls, join_words
from reedwright.tab.sets.model import Evening, SetEntry, TuneSet
from reedwright.tab.sets.paths import MOST_PLACED, cheapest_order
from reedwright.tab.sets.rules import NO_RULES, SetRules
from reedwright.tab.sets.setmaking import LEFT_OUT, Nodes, Quota, make_sets
from reedwright.tab.sets.stage import MOST_HARPS, Stage, staged
from reedwright.tab.sets.stepping import size_cost
from reedwright.tab.sets.wishes import HarpWishes, Limit, SetsError
from reedwright.tab.words import counted, in_words, listed

_LARGEST_SEARCH = 200_000_000
"""Steps that the search for the order of a set may compare: some seconds."""


@dataclass(frozen=True, slots=True)
class PlannedEvening:
    """An evening, the tunes left out with the reason, and how good it is.

    `cost`: of its sets, as the rules weigh it, those left out not counted; `short_of`: by how much
    at most other sets could be better; 0 where proven that none are. `ordered`: whether the
    order of the sets is proven the best for these sets. `seconds`: how long it is, with breaks.
    """

    evening: Evening
    left_out: tuple[LeftOut, ...]
    cost: float
    short_of: float
    ordered: bool
    seconds: float


def order_set(
    table: EffortTable,
    limit: Limit | None = None,
    rules: SetRules = NO_RULES,
    name: str = "Set",
    wishes: HarpWishes | None = None,
) -> TuneSet:
    """All tunes of the table as one set, in the best order and each on the best harp, exactly.

    Of many tunes on many harps six harps are chosen first, as for an evening. The sizes and
    minutes of the rules do not matter. Raises `SetsError` where a tune cannot be
    played, where they are more than `MOST_PLACED`, or where the rules allow no order.
    """
    # Where the tables of the search stay small, every harp is tried.
    size = len(table.tunes) * len(table.harps)
    few = size**2 << len(table.tunes) <= _LARGEST_SEARCH
    harps = len(table.harps) if few else MOST_HARPS
    stage = staged(table, limit or Limit(), rules, wishes, harps)
    for tune, nodes in enumerate(stage.groups):
        if not nodes:
            why = why_left_out(table, limit or Limit(), wishes or HarpWishes(), tune)
            raise SetsError(f"{table.tunes[tune].title}: {why}. Leave it out of the set.")
    if not table.tunes:
        raise SetsError("A set needs tunes.")
    if len(table.tunes) > MOST_PLACED:
        raise SetsError(f"{len(table.tunes)} tunes are too many for a set; {MOST_PLACED} at most.")
    for pair in sorted(stage.apart):
        one, two = (table.tunes[tune].title for tune in pair)
        raise SetsError(
            f"{one} and {two} are to stand apart by the rules; drop the rule or a tune."
        )
    bench = stage.bench
    found = cheapest_order(stage.groups, bench.own, bench.step, bench.begins, bench.ends)
    if found is None:
        raise SetsError(
            "These tunes cannot stand in one set: their types or your rules forbid it. Allow the "
            "types to be mixed, or put them into several sets."
        )
    return _set(stage, found[1], name)


def plan_evening(
    table: EffortTable,
    limit: Limit | None = None,
    rules: SetRules = NO_RULES,
    sets: int | None = None,
    minutes: float | None = None,
    title: str = "Evening",
    wishes: HarpWishes | None = None,
) -> PlannedEvening:
    """All tunes of the table put into sets; or, with `sets` or `minutes`, the best of them.

    `minutes`: as many sets of the usual size as fit in. `wishes`: for the harps; where more are
    left than `rules.most_harps`, those that play most of the list with least effort are chosen
    first. Raises `SetsError` where no set can be made or the rules contradict each other.
    """
    if sets is not None and sets < 1:
        raise SetsError(f"{sets} sets: give 1 or more.")
    within = limit or Limit()
    stage = staged(table, within, rules, wishes)
    if sets is None and minutes is not None:
        sets = _sets_in(stage, minutes)
    needed = np.array([sets is None and bool(nodes) for nodes in stage.groups], bool)
    needed[list(stage.wanted)] = True
    apart = stage.apart
    if min(stage.first, stage.last) >= 0 and (
        len(table.tunes) > rules.most if sets is None else sets > 1
    ):
        apart |= {(stage.first, stage.last)}  # they stand at the two ends of the evening
    made = make_sets(stage.bench, rules, sets, needed, apart, stage.kept, _quotas(stage, sets))
    if not made.sets:
        raise SetsError(
            "No set can be made of these tunes: no two of one type are playable within the limit. "
            "Allow types to be mixed or sets of one tune; in a file of rules "
            '(docs/sets.md) as mixed = [["jig", "reel"]] or size = [1, 4].'
        )
    order, ordered = _ordered(stage, made.sets)
    evening = Evening(
        title, tuple(_named_set(stage, nodes, number) for number, nodes in enumerate(order, 1))
    )
    played = {int(stage.bench.tune[node]) for nodes in order for node in nodes}
    missing = [tune for tune in range(len(table.tunes)) if tune not in played]
    left_out = tuple(
        LeftOut(tune, table.tunes[tune], _why(stage, table, within, wishes or HarpWishes(), tune))
        for tune in missing
        if sets is None or needed[tune]
    )
    seconds = sum(float(stage.bench.seconds[list(nodes)].sum()) for nodes in order)
    seconds += rules.break_seconds * (len(order) - 1)
    cost = sum(stage.bench.cost(nodes, rules) for nodes in order)
    return PlannedEvening(
        evening, left_out, cost, 0.0 if made.proven else made.cost - made.bound, ordered, seconds
    )


def _sets_in(stage: Stage, minutes: float) -> int:
    if not len(stage.bench.seconds):
        return 1
    rules = stage.rules
    usual = rules.usual * float(np.median(stage.bench.seconds))
    return max(1, int((60 * minutes + rules.break_seconds) // (usual + rules.break_seconds)))


def _quotas(stage: Stage, sets: int | None) -> list[Quota]:
    """How many sets there may be of each type, so that no two neighbours need be alike."""
    if sets is None:
        return []
    types = np.array([place.traits.type for place in stage.bench.places])
    rules = stage.rules
    kinds = dict.fromkeys(types.tolist())
    if rules.types:
        turns = [rules.types[place % len(rules.types)] for place in range(sets)]
        return [Quota(types == kind, turns.count(kind), LEFT_OUT / 2) for kind in kinds]
    half = (sets + 1) // 2
    return [Quota(types == kind, half, rules.weights.set_type) for kind in kinds]


def _ordered(stage: Stage, sets: Sequence[Nodes]) -> tuple[list[Nodes], bool]:
    """The sets in the order in which they are played, and whether none is better."""
    rules, places = stage.rules, stage.bench.places
    count = len(sets)
    step = np.zeros((count, count))
    for a, one in enumerate(sets):
        for b, two in enumerate(sets):
            step[a, b] = _set_step(stage, one, two)
    at = np.zeros((count, count))
    if rules.types:
        for turn in range(count):
            kind = rules.types[turn % len(rules.types)]
            at[turn] = [LEFT_OUT * (places[nodes[0]].traits.type != kind) for nodes in sets]
    tunes = [{int(stage.bench.tune[node]) for node in nodes} for nodes in sets]
    for b in range(count):
        if stage.first in tunes[b]:
            at[1:, b] += LEFT_OUT * count
        if stage.last in tunes[b]:
            at[:-1, b] += LEFT_OUT * count
    if count <= MOST_PLACED:
        groups = [(place,) for place in range(count)]
        found = cheapest_order(groups, np.zeros(count), step, at=at)
        order = list(range(count)) if found is None else list(found[1])
        return [sets[place] for place in order], True
    return [sets[place] for place in _improved(step, at)], False


def _set_step(stage: Stage, one: Nodes, two: Nodes) -> float:
    weights, places = stage.rules.weights, stage.bench.places
    end, begin = places[one[-1]], places[two[0]]
    return (
        weights.set_harp_change * (end.harp != begin.harp)
        + weights.set_type * (begin.traits.type == places[one[0]].traits.type)
        + weights.set_key * (end.tonic == begin.tonic and end.traits.mode == begin.traits.mode)
        + weights.set_rising * falls(_middle(stage, one), _middle(stage, two), stage.rules)
    )


def _middle(stage: Stage, nodes: Nodes) -> Place:
    """Stands for a set: its first tune with the mean work of all."""
    places = [stage.bench.places[node] for node in nodes]
    return places[0]._replace(work=sum(place.work for place in places) / len(places))


def _improved(step: NDArray[np.float64], at: NDArray[np.float64]) -> list[int]:
    """A good order of many sets: each in its best place, then moved as long as that helps."""

    def cost(order: Sequence[int]) -> float:
        rows = list(order)
        steps = float(step[rows[:-1], rows[1:]].sum()) if len(rows) > 1 else 0.0
        return steps + float(at[range(len(rows)), rows].sum())

    order: list[int] = []
    for place in range(len(step)):
        tries = [[*order[:k], place, *order[k:]] for k in range(len(order) + 1)]
        order = min(tries, key=cost)
    best = cost(order)
    while True:
        moved = [
            [*rest[:k], place, *rest[k:]]
            for place in order
            for rest in [[each for each in order if each != place]]
            for k in range(len(order))
        ]
        turned = [
            order[:a] + order[a:b][::-1] + order[b:]
            for a in range(len(order))
            for b in range(a + 2, len(order) + 1)
        ]
        better = min(moved + turned, key=cost)
        if cost(better) >= best - _NOTHING:
            return order
        order, best = better, cost(better)


_NOTHING = 1e-9  # cost


def _named_set(stage: Stage, nodes: Nodes, number: int) -> TuneSet:
    kinds = list(dict.fromkeys(stage.bench.places[node].traits.type for node in nodes))
    words = listed([_many(kind) for kind in kinds if kind])
    return _set(stage, nodes, f"Set {number}" + (f": {words}" if words else ""))


def _many(kind: str) -> str:
    """`reels`, `waltzes`, `marches`."""
    return kind + ("es" if kind.endswith(("s", "x", "z", "ch", "sh")) else "s")


def _set(stage: Stage, nodes: Nodes, name: str) -> TuneSet:
    entries = []
    for place, node in enumerate(nodes):
        tune, move = int(stage.bench.tune[node]), stage.moves[node]
        here = stage.bench.places[node]
        if place:
            why = join_words(stage.bench.places[nodes[place - 1]], here, stage.rules)
        else:
            why = f"begins, {stage.opens(node)}"
        entries.append(
            SetEntry(stage.table.tunes[tune], here.harp, *move, here.effort, stage.rules.times, why)
        )
    return TuneSet(name, tuple(entries), _why_set(stage, nodes))


def _why_set(stage: Stage, nodes: Nodes) -> str:
    places = [stage.bench.places[node] for node in nodes]
    harps = list(dict.fromkeys(in_words(place.harp.name) for place in places))
    changes = sum(a.harp != b.harp for a, b in pairwise(places))
    said = [f"all on the {harps[0]}" if not changes else counted(changes, "change") + " of harp"]
    minutes = float(stage.bench.seconds[list(nodes)].sum()) / 60
    said.append(f"about {max(1, round(minutes))} min")
    if size_cost(len(nodes), stage.rules):
        said.append(counted(len(nodes), "tune"))
    return ", ".join(said)


def _why(stage: Stage, table: EffortTable, limit: Limit, wishes: HarpWishes, tune: int) -> str:
    if not stage.groups[tune]:
        if stage.chosen is not None and stage.within.can[tune].any():
            names = listed([table.harps[place].name for place in stage.chosen])
            return f"not playable on the harps chosen for the evening ({names})"
        return why_left_out(table, limit, wishes, tune)
    return "no set is left for it: its type stands alone or your rules forbid its neighbours"
