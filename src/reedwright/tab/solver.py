"""The exact answer to: one state for every unknown, least sum of single and pair costs.

Unknowns are numbered in written order, states in order of preference. Among equal answers
the one is taken whose states are least when compared unknown by unknown from the first.

How: unknowns are eliminated from the last to the first. Eliminating one gives, for every
choice of the earlier unknowns that it or its successors touch, the least cost of all
that comes after, and the first state that reaches it. Going back from the first to the
last unknown then reads off the answer, and because each choice is the first that
reaches the least cost, it is the first in that order too. A tune touches few earlier
unknowns at a time (where a repeat began, where an ending left), so tables stay small.
Should a tune's repeats be so tangled that they do not, `solve_tangled` takes another order
and carries the preference inside of the costs.

This is bucket elimination (R. Dechter, Artificial Intelligence 113, 1999, from memory).
Many problems of the same shape are solved at once: the last axis counts problems.

Public: `Problems`, `solve`.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import prod
from typing import Any

import numpy as np
from numpy.typing import NDArray

Costs = NDArray[np.int64]

NEVER = 1 << 40
"""Cost of a state that is not there; more than any tune can cost, far from overflow."""

LARGEST_TABLE = 1 << 21
"""Entries. Beyond this the other order of elimination is taken."""


@dataclass(frozen=True, slots=True)
class Problems:
    """Costs of `count` problems that have the same unknowns and the same pairs.

    `single[i]` has shape (states of i, count); `pairs[i, j]`, with i before j, has shape
    (states of i, states of j, count). Whole numbers.
    """

    single: list[Costs]
    pairs: dict[tuple[int, int], Costs]
    count: int


def solve(problems: Problems) -> tuple[Costs, NDArray[np.int64]]:
    """The least costs, shape (count,), and the states, shape (unknowns, count)."""
    if not problems.single:
        return np.zeros(problems.count, np.int64), np.zeros((0, problems.count), np.int64)
    scopes = _scopes(problems)
    if _largest_table(problems, scopes) <= LARGEST_TABLE:
        return _solve_in_order(problems, scopes)
    if problems.count == 1:
        return solve_tangled(problems)
    # Fewer problems at once have smaller tables, also because each state that none
    # of them has is left out.
    middle = problems.count // 2
    halves = [solve(_part(problems, np.s_[:middle])), solve(_part(problems, np.s_[middle:]))]
    return (
        np.concatenate([total for total, _ in halves]),
        np.concatenate([states for _, states in halves], axis=1),
    )


def _largest_table(problems: Problems, scopes: list[tuple[int, ...]]) -> int:
    """Entries of the largest table that elimination in written order would make."""
    sizes: list[int] = [table.shape[0] for table in problems.single]
    largest = max(prod(sizes[j] for j in (i, *scope)) for i, scope in enumerate(scopes))
    return problems.count * largest


def _part(problems: Problems, which: slice) -> Problems:
    """Some of the problems; states at the end that none of them has are left out."""
    single = [table[:, which] for table in problems.single]
    sizes = [int(np.nonzero((table < NEVER).any(axis=1))[0][-1]) + 1 for table in single]
    return Problems(
        [table[:size] for table, size in zip(single, sizes, strict=True)],
        {(i, j): table[: sizes[i], : sizes[j], which] for (i, j), table in problems.pairs.items()},
        single[0].shape[1],
    )


def _scopes(problems: Problems) -> list[tuple[int, ...]]:
    """For each unknown the earlier ones that its table depends on."""
    earlier: list[set[int]] = [set() for _ in problems.single]
    for i, j in problems.pairs:
        earlier[j].add(i)
    for j in range(len(earlier) - 1, 0, -1):
        if earlier[j]:
            latest = max(earlier[j])
            earlier[latest] |= earlier[j] - {latest}
    return [tuple(sorted(each)) for each in earlier]


def _solve_in_order(
    problems: Problems, scopes: list[tuple[int, ...]]
) -> tuple[Costs, NDArray[np.int64]]:
    count = problems.count
    of_later: list[list[tuple[int, Costs]]] = [[] for _ in scopes]
    for (i, j), table in problems.pairs.items():
        of_later[j].append((i, table))
    # What the elimination of later unknowns says, kept with its latest unknown.
    messages: list[list[tuple[tuple[int, ...], Costs]]] = [[] for _ in scopes]
    best_state: list[NDArray[np.int8]] = [np.zeros(0, np.int8)] * len(scopes)
    total = np.zeros(count, np.int64)
    for j in range(len(scopes) - 1, -1, -1):
        scope = scopes[j]
        states = problems.single[j].shape[0]
        width = len(scope)
        joint = problems.single[j].reshape(states, *(1,) * width, count)
        for i, pair in of_later[j]:
            shape = [1] * width
            shape[scope.index(i)] = pair.shape[0]
            joint = joint + pair.transpose(1, 0, 2).reshape(states, *shape, count)
        for others, message in messages[j]:
            # Axes of a message: its earlier unknowns, then j, then the problems.
            shape = [1] * width
            width_of = len(others)
            for axis, other in enumerate(others):
                shape[scope.index(other)] = message.shape[axis]
            moved = message.transpose(width_of, *range(width_of), width_of + 1)
            joint = joint + moved.reshape(states, *shape, count)
        least, chosen = _first_least(joint)
        best_state[j] = chosen
        if scope:
            messages[scope[-1]].append((scope[:-1], least))
        else:
            total = total + least
    answer = np.zeros((len(scopes), count), np.int64)
    each = np.arange(count)
    for j, scope in enumerate(scopes):
        chosen = best_state[j]
        place = tuple(answer[i] if chosen.shape[axis] > 1 else 0 for axis, i in enumerate(scope))
        answer[j] = chosen[(*place, each)]
    return total, answer


def _first_least(table: Costs) -> tuple[Costs, NDArray[np.int8]]:
    """Least along the first axis, and the first index that has it."""
    least = table[0]
    chosen = np.zeros(least.shape, np.int8)
    for state in range(1, table.shape[0]):
        better = table[state] < least
        chosen[better] = state
        least = np.minimum(least, table[state])
    return least, chosen


def solve_tangled(problems: Problems) -> tuple[Costs, NDArray[np.int64]]:
    """As `solve`, for any graph: least degree first, in whole numbers without limit.

    The preference is part of the cost: the state of unknown i is a digit that stands
    below the cost and above those of all later unknowns, so the order of
    elimination cannot matter.
    """
    number = len(problems.single)
    base = max(table.shape[0] for table in problems.single)
    above = base**number
    totals = np.zeros(problems.count, np.int64)
    answers = np.zeros((number, problems.count), np.int64)
    for p in range(problems.count):
        tables: list[tuple[tuple[int, ...], Any]] = []
        for i, single in enumerate(problems.single):
            digit = base ** (number - 1 - i)
            values = [int(v) * above + s * digit for s, v in enumerate(single[:, p])]
            tables.append(((i,), np.array(values, dtype=object)))
        for (i, j), pair in problems.pairs.items():
            tables.append(((i, j), pair[:, :, p].astype(object) * above))
        totals[p], answers[:, p] = _eliminate(tables, number, above)
    return totals, answers


def _eliminate(
    tables: list[tuple[tuple[int, ...], Any]], number: int, above: int
) -> tuple[int, list[int]]:
    left = set(range(number))
    steps: list[tuple[int, tuple[int, ...], Any]] = []
    total = 0
    while left:
        touched = {i: {i} for i in left}
        for scope, _ in tables:
            for i in scope:
                touched[i] |= set(scope)
        i = min(left, key=lambda each: (len(touched[each]), each))
        scope = (*sorted(touched[i] - {i}), i)
        mine = [table for table in tables if i in table[0]]
        tables = [table for table in tables if i not in table[0]]
        joint: Any = 0
        for names, table in mine:
            order = sorted(range(len(names)), key=lambda axis: scope.index(names[axis]))
            moved = table.transpose(order)
            shape = [1] * len(scope)
            for axis in range(len(names)):
                shape[scope.index(names[order[axis]])] = moved.shape[axis]
            joint = joint + moved.reshape(shape)
        steps.append((i, scope[:-1], joint))
        least = joint.min(axis=-1)
        if scope[:-1]:
            tables.append((scope[:-1], least))
        else:
            total += int(least)
        left.remove(i)
    states = [0] * number
    for i, scope, joint in reversed(steps):
        row = joint[tuple(states[other] for other in scope)]
        states[i] = min(range(len(row)), key=lambda state: row[state])
    return total // above, states
