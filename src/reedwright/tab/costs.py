"""From a chain of notes and a table of ways to the costs that the solver sums.

Notes and moves of one kind (same pitches, same time, same slur...) cost the same, so
each kind is worked out once, for all problems and all ways at once.

Public: `problems_of`, `effort_items`, `Item`.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Sounding
from reedwright.player.profile import Weights
from reedwright.tab.chain import Chain, Move
from reedwright.tab.effort import (
    Costs,
    MoveKind,
    Ways,
    encoded,
    haste,
    move_parts,
    note_parts,
    ornament_units,
)
from reedwright.tab.ornaments.playable import Demand, Ornamenting
from reedwright.tab.solver import NEVER, Problems
from reedwright.tab.ways import WayTable

SECONDS_PER_MINUTE = 60.0


class _Clock:
    """Quarter notes to haste, at a tempo."""

    def __init__(self, weights: Weights, quarters_per_minute: float) -> None:
        self.weights = weights
        self.quarter = SECONDS_PER_MINUTE / quarters_per_minute

    def haste(self, times: list[float]) -> NDArray[np.float64]:
        found: NDArray[np.float64] = haste(self.weights, np.array(times) * self.quarter)
        return found


def problems_of(
    chain: Chain, table: WayTable, weights: Weights, quarters_per_minute: float
) -> Problems:
    """The costs of every way of every unknown, and of every pair that meets."""
    clock = _Clock(weights, quarters_per_minute)
    pitches = [unknown.midi for unknown in chain.unknowns]
    sizes = {m: max(1, int(table.counts[m].max())) for m in set(pitches)}
    count = table.counts.shape[1]
    single = _singles(chain, table, weights, clock, sizes)
    pairs: dict[tuple[int, int], Costs] = {}
    kinds = _kinds(chain, pitches)
    costs = _move_costs(kinds, table, weights, clock)
    for (row, move), times in kinds.uses.items():
        one, two = pitches[move.one], pitches[move.two]
        cost = costs[row, : sizes[one], : sizes[two]]
        if times > 1:
            cost = cost * times
        if move.one == move.two:
            same = np.arange(sizes[one])
            single[move.one] = single[move.one] + cost[same, same]
            continue
        first, second = move.one, move.two
        if first > second:
            first, second, cost = second, first, cost.transpose(1, 0, 2)
        known = pairs.get((first, second))
        pairs[first, second] = cost if known is None else known + cost
    return Problems(single, pairs, count)


def _singles(
    chain: Chain, table: WayTable, weights: Weights, clock: _Clock, sizes: dict[int, int]
) -> list[Costs]:
    kinds: dict[tuple[int, float], int] = {}
    for i, length in chain.lengths:
        kinds.setdefault((chain.unknowns[i].midi, length), len(kinds))
    if not kinds:
        return []
    midis = np.array([midi for midi, _ in kinds])
    most = max(sizes.values())
    ways = Ways(*(array[midis, :most] for array in table.ways))
    hurry = clock.haste([length for _, length in kinds])[:, None, None]
    costs = np.zeros(ways.hole.shape, np.int64)
    for _, part in note_parts(weights, ways, hurry):
        costs += part
    # Of a missing note only the first state is there; of others only their own ways.
    states = np.arange(most)[:, None]
    absent = states >= np.maximum(table.counts[midis], 1)[:, None, :]
    single: list[Costs] = [np.zeros(0, np.int64)] * len(chain.unknowns)
    for (i, length), times in chain.lengths.items():
        midi = chain.unknowns[i].midi
        row = kinds[midi, length]
        cost = costs[row, : sizes[midi]] * times
        single[i] = cost if not single[i].size else single[i] + cost
    _add_ornaments(single, chain, table, weights, clock)
    row_of = {midi: row for (midi, _), row in kinds.items()}
    for i, unknown in enumerate(chain.unknowns):
        here = absent[row_of[unknown.midi], : sizes[unknown.midi]]
        if here.any():
            single[i] = np.where(here, NEVER, single[i])
    return single


def _add_ornaments(
    single: list[Costs], chain: Chain, table: WayTable, weights: Weights, clock: _Clock
) -> None:
    """What the ornaments of each note cost, way by way."""
    known: dict[tuple[int, float, Demand], Costs] = {}
    for (i, length, demand), times in chain.ornaments.items():
        midi = chain.unknowns[i].midi
        kind = (midi, length, demand)
        if kind not in known:
            effort = table.ornament(midi, demand).effort
            known[kind] = ornament_units(weights, effort, clock.haste([length]))
        single[i] = single[i] + known[kind] * times


class _Kinds:
    """Moves sorted by what they cost alike: pitches, time, rest, slur."""

    def __init__(self) -> None:
        self.rows: dict[tuple[int, int, float, bool, bool], int] = {}
        self.uses: dict[tuple[int, Move], int] = defaultdict(int)


def _kinds(chain: Chain, pitches: list[int]) -> _Kinds:
    kinds = _Kinds()
    for move, times in chain.moves.items():
        key = (pitches[move.one], pitches[move.two], move.time, move.rest, move.slur)
        row = kinds.rows.setdefault(key, len(kinds.rows))
        kinds.uses[row, move] += times
    return kinds


def _move_costs(kinds: _Kinds, table: WayTable, weights: Weights, clock: _Clock) -> Costs:
    """Shape (kinds, ways of the one, ways of the other, problems)."""
    if not kinds.rows:
        return np.zeros((0, 1, 1, table.counts.shape[1]), np.int64)
    keys = list(kinds.rows)
    ones = np.array([key[0] for key in keys])
    twos = np.array([key[1] for key in keys])
    most = max(1, int(table.counts[np.concatenate([ones, twos])].max()))
    # Only pairs of ways that there are: on most harps that is a small part of the whole.
    there = table.ways.hole[:, :most] > 0
    pairs = there[ones][:, :, None] & there[twos][:, None, :]
    row, a, b, problem = np.nonzero(pairs)
    one = table.ways.take((ones[row], a, problem))
    two = table.ways.take((twos[row], b, problem))
    kind = MoveKind(
        haste=clock.haste([key[2] for key in keys])[row],
        rest=np.array([key[3] for key in keys])[row],
        slur=np.array([key[4] for key in keys])[row],
    )
    summed = np.zeros(len(row), np.int64)
    for _, part in move_parts(weights, one, two, kind):
        summed += part
    total = np.zeros(pairs.shape, np.int64)
    total[pairs] = summed
    return total


class Item(NamedTuple):
    """Effort in units of 1/1024, and how often it arises in the tune as played."""

    units: int
    times: int


def effort_items(
    chain: Chain,
    chosen: Sequence[Sounding | None],
    ornamenting: Ornamenting,
    weights: Weights,
    quarters_per_minute: float,
) -> dict[str, Item]:
    """What a finished tab costs, by name of weight (or of what became of an ornament).

    `chosen` has one way for each unknown (None: missing). Worked out note by note, not from
    the solver's tables.
    """
    if not chain.lengths:
        return {}
    clock = _Clock(weights, quarters_per_minute)
    units: defaultdict[str, int] = defaultdict(int)
    often: defaultdict[str, int] = defaultdict(int)

    def add(name: str, cost: Costs, times: NDArray[np.int64]) -> None:
        units[name] += int((cost * times).sum())
        often[name] += int(times[np.broadcast_to(cost, times.shape) > 0].sum())

    ways = Ways(*np.array([encoded(way) for way in chosen], np.int8).T)
    which = [i for i, _ in chain.lengths]
    times = np.array(list(chain.lengths.values()))
    hurry = clock.haste([length for _, length in chain.lengths])
    for name, cost in note_parts(weights, ways.take(which), hurry):
        add(name, cost, times)
    for (i, length, demand), count in chain.ornaments.items():
        way = chosen[i]
        if way is not None:
            found = ornamenting.realised(way, demand)
            cost = ornament_units(weights, found.effort, clock.haste([length]))
            add(found.outcome, cost, np.array([count]))
    if chain.moves:
        moves = list(chain.moves)
        kind = MoveKind(
            haste=clock.haste([move.time for move in moves]),
            rest=np.array([move.rest for move in moves]),
            slur=np.array([move.slur for move in moves]),
        )
        times = np.array(list(chain.moves.values()))
        ones = ways.take([move.one for move in moves])
        twos = ways.take([move.two for move in moves])
        for name, cost in move_parts(weights, ones, twos, kind):
            add(name, cost, times)
    return {name: Item(units[name], often[name]) for name in units if units[name]}
