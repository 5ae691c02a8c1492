"""The solver against trying everything, on graphs of any shape, by both orders of elimination."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.tab import solver
from reedwright.tab.solver import Problems, solve, solve_tangled


@st.composite
def problems(draw: st.DrawFn) -> Problems:
    """Few different costs, so that many answers are equal."""
    number, count = draw(st.integers(1, 6)), draw(st.integers(1, 3))
    sizes = [draw(st.integers(1, 3)) for _ in range(number)]
    rng = np.random.default_rng(draw(st.integers(0, 2**32)))
    most = draw(st.sampled_from([1, 2, 5, 1000]))
    possible = list(itertools.combinations(range(number), 2))
    chosen = [pair for pair in possible if draw(st.booleans())]
    return Problems(
        [rng.integers(0, most + 1, (size, count)) for size in sizes],
        {
            (i, j): rng.integers(0, most + 1, (sizes[i], sizes[j], count))
            for i, j in draw(st.permutations(chosen))
        },
        count,
    )


def by_trying(given_problems: Problems, p: int) -> tuple[int, list[int]]:
    best: tuple[int, list[int]] | None = None
    for states in itertools.product(*(range(len(each)) for each in given_problems.single)):
        cost = sum(int(t[s, p]) for t, s in zip(given_problems.single, states, strict=True))
        cost += sum(int(t[states[i], states[j], p]) for (i, j), t in given_problems.pairs.items())
        if best is None or cost < best[0]:  # the first of equals stays
            best = (cost, list(states))
    assert best is not None
    return best


@settings(max_examples=150, deadline=None)
@given(problems())
def test_least_and_first_of_equals_by_both_ways(given_problems: Problems) -> None:
    totals, states = solve(given_problems)
    tangled_totals, tangled_states = solve_tangled(given_problems)
    for p in range(given_problems.count):
        expected = by_trying(given_problems, p)
        assert (int(totals[p]), states[:, p].tolist()) == expected
        assert (int(tangled_totals[p]), tangled_states[:, p].tolist()) == expected


def test_a_tangled_problem_takes_the_other_way_and_is_the_same(monkeypatch) -> None:
    rng = np.random.default_rng(4)
    size, number = 3, 7
    tangle = Problems(
        [rng.integers(0, 9, (size, 1)) for _ in range(number)],
        {
            pair: rng.integers(0, 9, (size, size, 1))
            for pair in itertools.combinations(range(number), 2)
        },
        1,
    )
    usual = solve(tangle)
    taken = []
    other = solver.solve_tangled
    monkeypatch.setattr(solver, "LARGEST_TABLE", 100)
    monkeypatch.setattr(solver, "solve_tangled", lambda each: taken.append(1) or other(each))
    found = solve(tangle)
    assert taken
    assert found[0] == usual[0] and (found[1] == usual[1]).all()


@settings(max_examples=60, deadline=None)
@given(problems(), st.integers(1, 40))
def test_problems_solved_in_parts_are_the_same(given_problems: Problems, largest: int) -> None:
    # A state that a problem has not costs NEVER; give the last state of some of them that.
    for table in given_problems.single:
        if table.shape[0] > 1:
            table[-1, : given_problems.count // 2] = solver.NEVER
    totals, states = solve(given_problems)
    usual = solver.LARGEST_TABLE
    try:
        solver.LARGEST_TABLE = largest
        parted = solve(given_problems)
    finally:
        solver.LARGEST_TABLE = usual
    assert (parted[0] == totals).all() and (parted[1] == states).all()


def test_nothing_to_solve() -> None:
    totals, states = solve(Problems([], {}, 2))
    assert totals.tolist() == [0, 0] and states.shape == (0, 2)
