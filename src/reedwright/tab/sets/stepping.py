"""What every tune costs right after every other, for hundreds of tunes at once.

The figures are those of `join_cost`; that no type follows another, no tune itself, and the player's
own rules are infinite costs.

Public: `Bench`, `bench_of`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.tab.sets.joins import (
    ALIKE,
    JOINS,
    KEY_STEPS,
    NO_KEY,
    OTHER_STEP,
    SAME_KEY,
    SAME_TONIC,
    TEMPO_FAR,
    WIDEST_JOIN,
    WORK_SCALE,
    Place,
    may_follow,
)
from reedwright.tab.sets.rules import SetRules
from reedwright.tab.sets.traits import OPENING

Costs = NDArray[np.float64]


class Bench(NamedTuple):
    """Nodes: a tune on a harp. `tune`: each node's tune (a place in the list); `own`: its cost,
    that of its effort beside the usual in this list;
    `step[a, b]`: that of b after a; `begins`, `ends`: whether it may begin or end a set;
    `seconds` that it is played."""

    places: tuple[Place, ...]
    tune: NDArray[np.int64]
    own: Costs
    step: Costs
    begins: NDArray[np.bool_]
    ends: NDArray[np.bool_]
    seconds: Costs

    def cost(self, nodes: Sequence[int], rules: SetRules) -> float:
        """Of a set: its tunes, the steps between them, and its size."""
        rows = list(nodes)
        steps = self.step[rows[:-1], rows[1:]].sum()
        return float(self.own[rows].sum() + steps) + size_cost(len(rows), rules)


def size_cost(size: int, rules: SetRules) -> float:
    """What a set of so many tunes costs beside one of the usual size."""
    return rules.weights.size * abs(size - rules.usual)


def bench_of(places: Sequence[Place], tune: Sequence[int], rules: SetRules) -> Bench:
    """The bench of these nodes, before any rule that names tunes."""
    weights = rules.weights
    of = np.array(tune, np.int64)
    traits = [place.traits for place in places]
    harps = {harp: at for at, harp in enumerate(dict.fromkeys(p.harp for p in places))}
    harp = np.array([harps[place.harp] for place in places])
    tonic = np.array([place.tonic for place in places])
    modes = {mode: at for at, mode in enumerate(dict.fromkeys(t.mode for t in traits))}
    mode = np.array([modes[each.mode] for each in traits])
    minor = np.array([each.minor for each in traits])
    speed = np.log(np.array([each.speed for each in traits]))
    first = np.array([p.traits.first + p.moved for p in places])
    last = np.array([p.traits.last + p.moved for p in places])
    work = np.array([place.work for place in places])

    step = weights.harp_change * (harp[:, None] != harp[None, :])
    step = step + weights.key * _keys(tonic, mode)
    step += weights.mode * (minor[:, None] == minor[None, :])
    apart = np.abs(speed[:, None] - speed[None, :]) / np.log(1 + TEMPO_FAR)
    step += weights.tempo * np.minimum(1.0, apart)
    step += weights.alike * _alike([each.opening for each in traits])
    leaps = np.array([JOINS.get(leap, 0.0) for leap in range(WIDEST_JOIN + 1)] + [1.0])
    leap = np.minimum(np.abs(first[None, :] - last[:, None]), WIDEST_JOIN + 1)
    step += weights.join * leaps[leap]
    if rules.hardest != "any":
        fall = work[:, None] - work[None, :]
        fall = fall if rules.hardest == "last" else -fall
        step += weights.rising * np.clip(fall / WORK_SCALE, 0.0, 1.0)
    step[of[:, None] == of[None, :]] = np.inf
    kinds = {kind: at for at, kind in enumerate(dict.fromkeys(t.type for t in traits))}
    example = {each.type: each for each in traits}
    may = np.array([[may_follow(example[a], example[b], rules) for b in kinds] for a in kinds])
    kind = np.array([kinds[each.type] for each in traits])
    step[~may[kind[:, None], kind[None, :]]] = np.inf
    everywhere = np.ones(len(places), bool)
    effort = np.array([place.effort for place in places])
    # Beside what is usual, so that a set is not the better for having fewer tunes.
    best = [effort[of == each].min() for each in np.unique(of)]
    usual = float(np.median(best)) if best else 0.0
    return Bench(
        tuple(places),
        of,
        weights.effort * (effort - usual),
        step,
        everywhere,
        everywhere.copy(),
        rules.times * np.array([each.seconds for each in traits]),
    )


def _keys(tonic: NDArray[np.int64], mode: NDArray[np.int64]) -> Costs:
    by_step = np.array([KEY_STEPS.get(up, OTHER_STEP)[0] for up in range(12)])
    up = (tonic[None, :] - tonic[:, None]) % 12
    same = np.where(mode[:, None] == mode[None, :], SAME_KEY[0], SAME_TONIC[0])
    found = np.where(up == 0, same, by_step[up])
    none = tonic < 0
    return np.where(none[:, None] | none[None, :], NO_KEY[0], found)


_NOTHING = 999  # no step is so wide


def _alike(openings: Sequence[tuple[int, ...]]) -> NDArray[np.bool_]:
    distinct = {opening: at for at, opening in enumerate(dict.fromkeys(openings))}
    table = np.full((len(distinct), OPENING), _NOTHING)
    for opening, at in distinct.items():
        table[at, : len(opening)] = opening
    length = (table != _NOTHING).sum(axis=1)
    shorter = np.minimum(length[:, None], length[None, :])
    same = np.zeros(shorter.shape, np.int64)
    for column in table.T:
        same += (column[:, None] == column[None, :]) & (column != _NOTHING)[None, :]
    alike = (same >= ALIKE * shorter) & (shorter > 0)
    which = np.array([distinct[opening] for opening in openings])
    found: NDArray[np.bool_] = alike[which[:, None], which[None, :]]
    return found
