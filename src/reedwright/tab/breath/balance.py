"""Effort traded for balance: a tab whose breaths in and out even out.

The objective, in units of 1/`SCALE` effort, is

    effort + weight x imbalance

where the imbalance is counted along the tune as played, without breath marks: at the end of
each sounded note the litres by which the level lies beyond `comfortable_litres`, summed.

A sum over levels is no sum over pairs of notes, so the solver cannot be asked for it. But air can
have a price. Where the level runs beyond comfortable on the full side, each litre more that
any earlier note brings in costs the weight, once for every such end of a note that follows
(up to a rest that empties or fills the lungs to the middle); and the other way round. With
such a price on each note's air the solver finds the least of effort and price, exactly. This is
Lagrange's relaxation: H. Everett, Operations Research 11, 1963 (from memory).

Many prices are solved at once: even ones over the whole tune, those that the levels of the best
answers so far give, at several strengths and counted from several widths of comfort, and the
price of the best answer with more or less on a half, a quarter or an eighth of the tune. The
best answers by the true objective are then bettered by changing one note at a time.

What comes out is the best of what was tried and not always the best there is. The tab of least
effort is always among the tried, so the answer is never worse than that one.

Public: `balanced`, `air_of`, `Air`, `imbalance`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Harp, Sounding
from reedwright.player.lungs import Lungs
from reedwright.tab.breath.airline import air_rate, lay_out
from reedwright.tab.effort import SCALE
from reedwright.tab.solver import NEVER, Costs, Problems, solve
from reedwright.tune.model import Tune

Floats = NDArray[np.float64]
States = NDArray[np.int64]

ROUNDS = 4
_KEPT = 2  # answers whose levels give the next prices
_STRENGTHS = (0.05, 0.15, 0.35, 0.7, 1.0)
_COMFORTS = (1.0, 0.6, 0.2)  # of `comfortable_litres`
_STRETCHES = (1, 2, 4, 8)  # equal parts of the tune
_STEPS = (-8.0, -2.0, 2.0, 8.0)  # weights a litre, more or less on a stretch
_EVEN_PRICES = (1.0, 3.0, 10.0, 30.0)  # weights a litre, in and out
_POLISHED = 3  # answers that are bettered note by note
_PASSES = 3
_LITTLE = 1e-6  # units; less is rounding


class Air(NamedTuple):
    """How the unknowns of a chain are heard along the tune, and what air their ways move.

    `unknown[k]` is heard for `seconds[k]` (weighed by loudness), then `rest[k]` litres come or go
    in silence. `rates[i, state]` is in litres a second, above 0 for draw.
    """

    unknown: NDArray[np.int64]
    seconds: Floats
    rest: Floats
    rates: Floats
    comfortable: float


def air_of(
    tune: Tune,
    voice: int,
    unknowns: Sequence[Sequence[str]],
    ways: Sequence[Sequence[Sounding | None]],
    harp: Harp,
    lungs: Lungs,
    quarters_per_minute: float,
) -> Air:
    """The air of a chain: `unknowns` are the ids that each stands for, `ways[i]` its ways."""
    index = {id_: i for i, ids in enumerate(unknowns) for id_ in ids}
    audible: Mapping[str, float] = {
        id_: 1.0 for id_, i in index.items() if any(way is not None for way in ways[i])
    }
    sounds = lay_out(tune, voice, quarters_per_minute, audible, lungs).sounds
    rates = np.zeros((len(ways), max(map(len, ways), default=1)))
    for i, mine in enumerate(ways):
        for state, way in enumerate(mine):
            if way is not None:
                rates[i, state] = air_rate(way, harp, lungs)
    return Air(
        np.array([index[sound.ids[0]] for sound in sounds], np.int64),
        np.array([sound.seconds * sound.rate for sound in sounds]),
        np.array([sound.gap * lungs.rest_rate for sound in sounds]),
        rates,
        lungs.comfortable_litres,
    )


def imbalance(air: Air, states: States) -> Floats:
    """Litres beyond comfortable, summed over the ends of notes. `states`: (unknowns, count)."""
    beyond: Floats = np.maximum(np.abs(_levels(air, states)) - air.comfortable, 0.0).sum(axis=0)
    return beyond


def balanced(problems: Problems, air: Air, weight: float) -> list[int]:
    """States of least effort plus `weight` (effort) times imbalance among those tried.

    `problems` holds one problem, in units of 1/`SCALE` effort.
    """
    _, plain = solve(problems)
    if weight <= 0.0 or not problems.single or not len(air.unknown):
        return [int(state) for state in plain[:, 0]]
    tried = _Tried(problems, air, weight)
    tried.add(plain, np.zeros((1, len(air.unknown))))
    prices = [sign * weight * price for price in _EVEN_PRICES for sign in (1.0, -1.0)]
    tried.solve(np.array([np.full(len(air.unknown), price) for price in prices]))
    for _ in range(ROUNDS):
        known = len(tried.answers)
        tried.solve(tried.prices())
        if len(tried.answers) == known:
            break
    return tried.polished()


class _Tried:
    """Answers with their true objective."""

    def __init__(self, problems: Problems, air: Air, weight: float) -> None:
        self.problems, self.air, self.weight = problems, air, weight
        self.answers: dict[tuple[int, ...], float] = {}
        self._price_of: dict[tuple[int, ...], Floats] = {}
        self._touching: list[list[tuple[int, Costs]]] = [[] for _ in problems.single]
        for (i, j), table in problems.pairs.items():
            self._touching[i].append((j, table[:, :, 0]))
            self._touching[j].append((i, table[:, :, 0].T))

    def add(self, states: States, prices: Floats) -> None:
        """Answers, one a column, and the prices that led to them, one a row."""
        beyond = imbalance(self.air, states)
        for column, litres, price in zip(states.T.tolist(), beyond.tolist(), prices, strict=True):
            key = tuple(column)
            if key not in self.answers:
                self.answers[key] = self._effort(column) + SCALE * self.weight * litres
                self._price_of[key] = price

    def solve(self, prices: Floats) -> None:
        """The answers for prices of shape (count, sounds), in effort a litre."""
        if not len(prices):
            return
        count = len(prices)
        air = self.air
        # What a litre a second costs each unknown, over all the times that it is heard.
        of_unknown = np.zeros((len(self.problems.single), count))
        np.add.at(of_unknown, air.unknown, (prices * air.seconds).T)
        single: list[Costs] = []
        for i, table in enumerate(self.problems.single):
            rates = air.rates[i, : len(table), None]
            priced = np.rint(SCALE * rates * of_unknown[i]).astype(np.int64)
            single.append(np.where(table < NEVER, table + priced, NEVER))
        pairs = {
            key: np.broadcast_to(table, (*table.shape[:2], count))
            for key, table in self.problems.pairs.items()
        }
        self.add(solve(Problems(single, pairs, count))[1], prices)

    def prices(self) -> Floats:
        """Prices to try next, shape (count, sounds): effort a litre.

        What the levels of the best answers say that air should cost, and the price of the best
        answer with more or less on a stretch of the tune.
        """
        best = self._best()[:_KEPT]
        levels = _levels(self.air, np.array(best, np.int64).T)
        found = []
        for column in levels.T:
            for comfort in _COMFORTS:
                price = _worth(self.air, column, comfort * self.air.comfortable)
                if price.any():
                    found += [self.weight * strength * price for strength in _STRENGTHS]
        count = len(self.air.unknown)
        base = self._price_of[best[0]]
        for parts in _STRETCHES:
            edges = [count * k // parts for k in range(parts + 1)]
            for first, stop in pairwise(edges):
                for step in _STEPS:
                    price = base.copy()
                    price[first:stop] += step * self.weight
                    found.append(price)
        return np.array(found).reshape(-1, count)

    def polished(self) -> list[int]:
        """The best answer, after the few best were bettered note by note."""
        for states in self._best()[:_POLISHED]:
            self._polish(list(states))
        return list(self._best()[0])

    def _polish(self, states: list[int]) -> None:
        score = self.answers[tuple(states)]
        for _ in range(_PASSES):
            bettered = False
            for i, table in enumerate(self.problems.single):
                if len(table) < 2:
                    continue
                trials = np.repeat(np.array(states, np.int64)[:, None], len(table), axis=1)
                trials[i] = range(len(table))
                effort = table[:, 0] + sum(
                    pair[:, states[other]] for other, pair in self._touching[i]
                )
                scores = effort + SCALE * self.weight * imbalance(self.air, trials)
                change = scores - scores[states[i]]
                best = int(change.argmin())
                if change[best] < -_LITTLE:
                    states[i], score, bettered = best, score + float(change[best]), True
            if not bettered:
                break
        self.answers.setdefault(tuple(states), score)

    def _best(self) -> list[tuple[int, ...]]:
        return sorted(self.answers, key=lambda states: (self.answers[states], states))

    def _effort(self, states: Sequence[int]) -> int:
        total = sum(int(t[s, 0]) for t, s in zip(self.problems.single, states, strict=True))
        for (i, j), table in self.problems.pairs.items():
            total += int(table[states[i], states[j], 0])
        return total


def _levels(air: Air, states: States) -> Floats:
    """The level at the end of each sound, shape (sounds, count)."""
    moved = air.rates[air.unknown[:, None], states[air.unknown]] * air.seconds[:, None]
    levels = np.empty_like(moved)
    level = np.zeros(moved.shape[1])
    start = 0
    for stop in [*np.flatnonzero(air.rest), len(moved) - 1]:
        if stop < start:
            continue
        levels[start : stop + 1] = level + np.cumsum(moved[start : stop + 1], axis=0)
        level = levels[stop]
        level = np.sign(level) * np.maximum(np.abs(level) - air.rest[stop], 0.0)
        start = stop + 1
    return levels


def _worth(air: Air, levels: Floats, comfortable: float) -> Floats:
    """For each sound, how many later ends (its own too) a litre more brings further out of
    comfort, less those that it brings back."""
    beyond = np.where(np.abs(levels) > comfortable, np.sign(levels), 0.0)
    worth = np.zeros(len(levels))
    later = 0.0
    for k in range(len(levels) - 1, -1, -1):
        if air.rest[k] and abs(levels[k]) <= air.rest[k]:
            later = 0.0  # the rest levels whatever came before it
        later += beyond[k]
        worth[k] = later
    return worth
