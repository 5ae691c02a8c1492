"""Effort traded for balance, against every answer that there is on short chains."""

import itertools
from pathlib import Path

import numpy as np
import pytest

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.player.lungs import Lungs
from reedwright.tab.arrange import posed
from reedwright.tab.breath import balance
from reedwright.tab.breath.airline import air_rate
from reedwright.tab.breath.balance import Air, air_of, balanced, imbalance
from reedwright.tab.effort import SCALE
from reedwright.tab.solver import Problems, solve
from reedwright.tune.abc import read_abc

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"


def random_case(rng: np.random.Generator) -> tuple[Problems, Air]:
    """Up to 8 unknowns of up to 3 ways, heard with a repeat and rests; long notes of air."""
    count = int(rng.integers(3, 9))
    sizes = rng.integers(1, 4, count)
    single = [rng.integers(0, 3000, (size, 1)) for size in sizes]
    heard = [*range(count)]
    if rng.random() < 0.5:
        cut = int(rng.integers(1, count))
        heard = [*heard[:cut], *heard]
    pairs: dict[tuple[int, int], np.ndarray] = {}
    for one, two in itertools.pairwise(heard):
        if one != two:
            low, high = min(one, two), max(one, two)
            cost = rng.integers(0, 2000, (sizes[low], sizes[high], 1))
            pairs[low, high] = pairs.get((low, high), 0) + cost
    rates = np.zeros((count, 3))
    for i, size in enumerate(sizes):
        rates[i, :size] = rng.choice([-0.24, -0.2, -0.14, 0.14, 0.2, 0.24], size)
    rest = np.where(rng.random(len(heard)) < 0.15, rng.random(len(heard)) * 1.5, 0.0)
    air = Air(np.array(heard), 1.0 + rng.random(len(heard)) * 7.0, rest, rates, 1.0)
    return Problems(single, pairs, 1), air


def effort(problems: Problems, states: tuple[int, ...]) -> int:
    total = sum(int(table[s, 0]) for table, s in zip(problems.single, states, strict=True))
    return total + sum(int(t[states[i], states[j], 0]) for (i, j), t in problems.pairs.items())


def litres_beyond(air: Air, states: tuple[int, ...]) -> float:
    """The imbalance counted one sound after the other."""
    level = total = 0.0
    for unknown, seconds, rest in zip(air.unknown, air.seconds, air.rest, strict=True):
        level += air.rates[unknown, states[unknown]] * seconds
        total += max(abs(level) - air.comfortable, 0.0)
        level = max(level - rest, 0.0) if level > 0 else min(level + rest, 0.0)
    return total


def objective(problems: Problems, air: Air, weight: float, states: tuple[int, ...]) -> float:
    return effort(problems, states) + SCALE * weight * litres_beyond(air, states)


def test_imbalance_is_what_a_walk_along_the_tune_counts() -> None:
    rng = np.random.default_rng(1)
    for _ in range(50):
        problems, air = random_case(rng)
        states = tuple(int(rng.integers(0, len(table))) for table in problems.single)
        found = imbalance(air, np.array(states)[:, None])[0]
        assert found == pytest.approx(litres_beyond(air, states))


def test_never_worse_than_effort_alone_and_nearly_always_the_best_there_is() -> None:
    rng = np.random.default_rng(2)
    best = changed = 0
    cases = 120
    for _ in range(cases):
        problems, air = random_case(rng)
        weight = float(rng.choice([0.3, 1.0, 3.0]))
        answer = tuple(balanced(problems, air, weight))
        plain = tuple(int(s) for s in solve(problems)[1][:, 0])
        reached = objective(problems, air, weight, answer)
        assert reached <= objective(problems, air, weight, plain) + 1e-6
        least = min(
            objective(problems, air, weight, states)
            for states in itertools.product(*(range(len(table)) for table in problems.single))
        )
        assert reached >= least - 1e-6
        best += reached <= least + 1e-6
        changed += answer != plain
    print(f"{best} of {cases} are the best there is, {changed} differ from effort alone")
    assert changed >= cases / 4, "the cases must put the trade to the test"
    assert best >= 0.97 * cases


def test_the_plain_answer_is_among_the_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(balance, "_EVEN_PRICES", ())
    monkeypatch.setattr(balance, "ROUNDS", 0)
    monkeypatch.setattr(balance, "_PASSES", 0)
    rng = np.random.default_rng(5)
    for _ in range(5):
        problems, air = random_case(rng)
        assert balanced(problems, air, 1.0) == solve(problems)[1][:, 0].tolist()


def test_a_litre_is_worth_the_ends_that_it_brings_further_out() -> None:
    rates, seconds = np.array([[0.2]] * 6), np.full(6, 4.0)
    air = Air(np.arange(6), seconds, np.array([0, 0, 9.0, 0, 0, 0]), rates, 1.0)
    levels = balance._levels(air, np.zeros((6, 1), np.int64))[:, 0]
    assert levels == pytest.approx([0.8, 1.6, 2.4, 0.8, 1.6, 2.4])
    # Two ends beyond comfort in each stretch; the long rest between parts them.
    assert balance._worth(air, levels, 1.0).tolist() == [2, 2, 1, 2, 2, 1]
    assert balance._worth(air, -levels, 1.0).tolist() == [-2, -2, -1, -2, -2, -1]


def test_without_weight_it_is_the_answer_of_least_effort() -> None:
    rng = np.random.default_rng(3)
    problems, air = random_case(rng)
    assert balanced(problems, air, 0.0) == solve(problems)[1][:, 0].tolist()


@pytest.mark.parametrize(("number", "key"), [(0, "G"), (1, "G"), (5, "C")])
def test_on_real_tunes_weight_buys_balance_with_effort(number: int, key: str) -> None:
    tune = read_abc(EXAMPLES.read_text())[number]
    harp, player = make_harp(key), load_profile("all-techniques")
    problem = posed(tune, harp, player)
    ids = [unknown.ids for unknown in problem.chain.unknowns]
    tempo = problem.quarters_per_minute
    air = air_of(tune, 0, ids, problem.ways, harp, player.lungs, tempo)
    reached = []
    for weight in (0.0, 0.2, 2.0):
        states = tuple(balanced(problem.problems, air, weight))
        reached.append((effort(problem.problems, states), litres_beyond(air, states)))
    efforts, litres = zip(*reached, strict=True)
    assert efforts[0] < efforts[1] < efforts[2]
    assert litres[0] > litres[1] > litres[2]


def test_air_of_a_chain_is_that_of_the_tune() -> None:
    tune = read_abc("X:1\nT:t\nL:1/4\nQ:1/4=60\nK:C\n|: C2- C D z !f!E :|\n")[0]
    harp, player = make_harp("C"), load_profile("player")
    problem = posed(tune, harp, player)
    ids = [unknown.ids for unknown in problem.chain.unknowns]
    air = air_of(tune, 0, ids, problem.ways, harp, Lungs(), problem.quarters_per_minute)
    assert air.unknown.tolist() == [0, 1, 2, 0, 1, 2]
    assert air.seconds.tolist() == pytest.approx([3, 1, 1.2] * 2)
    assert air.rest.tolist() == pytest.approx([0, 1.5, 0] * 2)
    for row, ways in zip(air.rates, problem.ways, strict=True):
        assert row[: len(ways)].tolist() == [air_rate(way, harp, Lungs()) for way in ways if way]
