"""The k least answers of a problem, and what every other state would cost: exact.

The k best by partition of the answers (K. G. Murty, Operations Research 16, 1968; E. L. Lawler,
Management Science 18, 1972; both from memory): all answers but the best are cut into classes,
in each of which the first unknowns are as in the best and the next one is not. The least of
each class is one more problem for the solver, and all of them differ only in which states are
barred, so that they are solved together on its batch axis. The least of these is the second best;
its class is cut up in turn, and so on.

Two answers count as different where they differ in the unknowns asked about (`within`); what the
others do then is the least that these allow. Order: by cost, and of equal costs the one
whose states are least when compared unknown by unknown from the first.

Public: `k_best`, `instead`, `in_order`, `repeated`, `States`.
"""

from __future__ import annotations

import heapq
from collections.abc import Collection, Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from reedwright.tab.solver import NEVER, Problems, solve

States = tuple[int, ...]
"""The state of every unknown, in order."""

MOST_AT_ONCE = 4096
"""Problems that are solved together; beyond it in turns, to bound the memory."""

_Fixed = tuple[tuple[int, int], ...]  # (unknown, its state), as in the answer it came from
_Barred = tuple[tuple[int, int], ...]  # (unknown, a state that it must not have)


def k_best(
    problems: Problems, k: int, within: Collection[int] | None = None
) -> list[tuple[int, States]]:
    """The `k` least answers that differ within some unknowns (all, where not said), least first.

    For one problem (`count` 1). Fewer come back where there are fewer. Costs are those of the
    whole problem, in units of the solver.
    """
    return list(in_order(problems, within, k))


def in_order(
    problems: Problems, within: Collection[int] | None = None, most: int | None = None
) -> Iterator[tuple[int, States]]:
    """As `k_best`, one by one as they are asked for; at most `most`."""
    if most == 0 or not problems.single:
        return
    order = sorted(set(range(len(problems.single)) if within is None else within))
    free = [i for i in order if int((problems.single[i][:, 0] < NEVER).sum()) > 1]
    (first,) = _solve_each(problems, [((), ())])
    if first is None:
        return
    # The class of an answer: these states fixed, those barred; cut up at unknowns not fixed.
    heap: list[tuple[int, States, _Fixed, _Barred]] = [(*first, (), ())]
    given = 0
    while heap:
        cost, states, fixed, without = heapq.heappop(heap)
        yield cost, states
        given += 1
        if given == most:
            return
        held = {i for i, _ in fixed}
        prefix = fixed
        classes: list[tuple[_Fixed, _Barred]] = []
        for i in free:
            if i in held:
                continue
            mine = tuple(each for each in without if each[0] == i)
            classes.append((prefix, (*mine, (i, states[i]))))
            prefix = (*prefix, (i, states[i]))
        answers = _solve_each(problems, classes)
        for (now_fixed, now_barred), answer in zip(classes, answers, strict=True):
            if answer is not None:
                heapq.heappush(heap, (*answer, now_fixed, now_barred))


def instead(
    problems: Problems, taken: Sequence[tuple[int, int]]
) -> list[tuple[int, States] | None]:
    """For each (unknown, state) the least answer that has it; None where there is none.

    So the cost of the ways not taken (exact min-marginals).
    """
    return _solve_each(problems, [(((unknown, state),), ()) for unknown, state in taken])


def repeated(problems: Problems, count: int) -> tuple[Problems, list[NDArray[np.int64]]]:
    """The same problem `count` times, its costs of single states ready to be changed."""
    single = [np.repeat(table, count, axis=1) for table in problems.single]
    pairs = {
        both: np.broadcast_to(table, (*table.shape[:2], count))
        for both, table in problems.pairs.items()
    }
    return Problems(single, pairs, count), single


def _solve_each(
    problems: Problems, classes: Sequence[tuple[_Fixed, _Barred]]
) -> list[tuple[int, States] | None]:
    """The least answer of each class."""
    answers: list[tuple[int, States] | None] = []
    for start in range(0, len(classes), MOST_AT_ONCE):
        part = classes[start : start + MOST_AT_ONCE]
        batch, single = repeated(problems, len(part))
        for p, (fixed, without) in enumerate(part):
            for i, state in fixed:
                keep = single[i][state, p]
                single[i][:, p] = NEVER
                single[i][state, p] = keep
            for i, state in without:
                single[i][state, p] = NEVER
        costs, states = solve(batch)
        for cost, column in zip(costs.tolist(), states.T.tolist(), strict=True):
            answers.append((cost, tuple(column)) if cost < NEVER else None)
    return answers
