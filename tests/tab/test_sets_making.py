"""Sets made of a list or a pool: as good as the best of all ways there are, or the bound holds."""

from __future__ import annotations

from itertools import combinations, pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.tab.sets import setmaking
from reedwright.tab.sets.rules import SetRules
from reedwright.tab.sets.setmaking import LEFT_OUT, Quota, make_sets
from reedwright.tab.sets.stepping import Bench

RULES = SetRules(fewest=2, most=3, usual=3)


def random_bench(seed: int, tunes: int, forms: int) -> Bench:
    rng = np.random.default_rng(seed)
    count = tunes * forms
    tune = np.repeat(np.arange(tunes), forms)
    step = rng.random((count, count)) * 3
    step[rng.random((count, count)) < 0.25] = np.inf
    step[tune[:, None] == tune[None, :]] = np.inf
    own = rng.random(count) - 0.5
    return Bench(
        (), tune, own, step, rng.random(count) < 0.9, rng.random(count) < 0.9, np.full(count, 60.0)
    )


def every_set(bench: Bench, apart: frozenset[tuple[int, int]]) -> dict[tuple[object, ...], float]:
    """The cheapest set of each choice of tunes and first node, all orders and forms tried."""
    best: dict[tuple[object, ...], float] = {}
    for size in (2, 3):
        for nodes in permutations(range(len(bench.own)), size):
            tunes = frozenset(int(bench.tune[node]) for node in nodes)
            if len(tunes) < size or not bench.begins[nodes[0]] or not bench.ends[nodes[-1]]:
                continue
            if any(set(pair) <= tunes for pair in apart):
                continue
            cost = sum(bench.own[node] for node in nodes) + (3 - size) * RULES.weights.size
            cost += sum(bench.step[a, b] for a, b in pairwise(nodes))
            if np.isfinite(cost):
                key = (tunes, nodes[0] % 2)
                best[key] = min(best.get(key, np.inf), float(cost))
    return best


def best_of_all(
    bench: Bench, number: int | None, needed: np.ndarray, apart: frozenset, quota: int | None
) -> float:
    sets = [(key[0], key[1], cost) for key, cost in every_set(bench, apart).items()]
    best = np.inf
    tunes = len(needed)
    for count in range(len(needed) // 2 + 1 if number is None else number + 1):
        for chosen in combinations(sets, count):
            used = [tune for each, _, _ in chosen for tune in each]
            if len(used) != len(set(used)):
                continue
            cost = sum(each[2] for each in chosen)
            cost += LEFT_OUT * sum(bool(needed[t]) and t not in used for t in range(tunes))
            if number is not None:
                cost += LEFT_OUT * (number - count)
            if quota is not None:
                cost += 0.7 * max(0, sum(each[1] == 0 for each in chosen) - quota)
            best = min(best, cost)
    return float(best)


CASES = st.tuples(
    st.integers(0, 10_000),
    st.integers(3, 5),
    st.integers(1, 2),
    st.sampled_from([None, 1, 2]),
    st.booleans(),
    st.sampled_from([None, 0, 1]),
)


@pytest.mark.parametrize("written_down", [True, False])
@settings(max_examples=30, deadline=None)
@given(case=CASES)
def test_sets_are_as_good_as_the_best_of_all_tried_out(
    written_down: bool, case: tuple[int, int, int, int | None, bool, int | None]
) -> None:
    seed, tunes, forms, number, separate, quota = case
    bench = random_bench(seed, tunes, forms)
    needed = np.full(tunes, number is None)
    apart = frozenset({(0, 1)} if separate else set())
    even = np.arange(len(bench.own)) % 2 == 0
    quotas = [] if quota is None else [Quota(even, quota, 0.7)]
    with pytest.MonkeyPatch.context() as patch:
        if not written_down:  # found one after another by prices, as in a large pool
            patch.setattr(setmaking, "_all_sets", lambda asked: None)
        made = make_sets(bench, RULES, number, needed, apart, quotas=quotas)
    best = best_of_all(bench, number, needed, apart, quota)
    assert made.bound <= best + 1e-6
    assert made.cost >= best - 1e-6
    if made.proven:
        assert made.cost == pytest.approx(best, abs=1e-4)
    assert made.proven
    # What is told is what the sets cost.
    spent = sum(bench.cost(nodes, RULES) for nodes in made.sets)
    played = {int(bench.tune[node]) for nodes in made.sets for node in nodes}
    spent += LEFT_OUT * sum(bool(needed[t]) and t not in played for t in range(tunes))
    spent += 0 if number is None else LEFT_OUT * (number - len(made.sets))
    if quota is not None:
        spent += 0.7 * max(0, sum(nodes[0] % 2 == 0 for nodes in made.sets) - quota)
    assert made.cost == pytest.approx(spent)


def test_a_set_that_stands_ready_is_taken_whole() -> None:
    bench = random_bench(5, 6, 1)
    bench.step[:2] = bench.step[:, :2] = np.inf
    bench.step[0, 1] = 1.0
    bench.begins[:2] = False
    needed = np.zeros(6, bool)
    needed[:2] = True
    made = make_sets(bench, RULES, 2, needed, ready=[(0, 1)])
    assert (0, 1) in made.sets and len(made.sets) == 2
    assert made.cost < LEFT_OUT


def test_sets_shorter_or_longer_than_asked_are_not_made() -> None:
    bench = random_bench(7, 8, 1)
    rules = SetRules(fewest=2, most=3, usual=3, set_minutes=(2.5, 3.5))
    made = make_sets(bench, rules, 2, np.zeros(8, bool))
    assert made.sets and all(len(nodes) == 3 for nodes in made.sets)  # a minute each


@pytest.mark.parametrize("seed", range(3))
def test_no_set_that_is_thought_of_has_a_tune_twice(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench = random_bench(seed, 7, 2)
    thought_of = []
    whole = setmaking._whole

    def noted(asked: object, columns: list[tuple[int, ...]]) -> object:
        thought_of.extend(columns)
        return whole(asked, columns)

    monkeypatch.setattr(setmaking, "_all_sets", lambda asked: None)
    monkeypatch.setattr(setmaking, "_whole", noted)
    make_sets(bench, RULES, 2, np.zeros(7, bool))
    assert any(len(nodes) == 3 for nodes in thought_of)
    for nodes in thought_of:
        assert len({int(bench.tune[node]) for node in nodes}) == len(nodes)
