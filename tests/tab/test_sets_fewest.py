"""The fewest harps: equal to trying every choice of harps, one by one."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.tab.sets.programme import Programme


def tried_out(
    can: np.ndarray,
    cost: np.ndarray,
    counts: np.ndarray,
    odd: np.ndarray,
    must: np.ndarray,
    most_odd: int | None,
    most: int | None,
    by_effort: bool,
) -> tuple[tuple[int, ...], int, int, int] | None:
    """The best of all choices there are: harps, tunes left out, what they count, effort."""
    best = None
    tunes, harps = can.shape
    for size in range(harps + 1):
        for chosen in combinations(range(harps), size):
            if any(must[h] and h not in chosen for h in range(harps)):
                continue
            if most is not None and size > most:
                continue
            if most_odd is not None and sum(bool(odd[h]) for h in chosen) > most_odd:
                continue
            least = [
                min((int(cost[t, h]) for h in chosen if can[t, h]), default=None)
                for t in range(tunes)
            ]
            out = sum(each is None for each in least)
            counted = sum(int(counts[h]) for h in chosen)
            effort = sum(each for each in least if each is not None)
            key = (out, 0 if by_effort else counted, effort, size, sum(chosen))
            if best is None or key < best[0]:
                best = (key, chosen, out, counted, effort)
    return None if best is None else best[1:]


def passed_over(
    harp: int,
    by_effort: bool,
    can: np.ndarray,
    cost: np.ndarray,
    counts: np.ndarray,
    odd: np.ndarray,
    must: np.ndarray,
    most_odd: int | None,
) -> bool:
    def figures(h: int) -> list[float]:
        each = [float(cost[t, h]) if can[t, h] else np.inf for t in range(len(can))]
        return [*each, 0 if by_effort else counts[h], 0 if most_odd is None else odd[h]]

    mine = figures(harp)
    for other in range(len(odd)):
        its = figures(other)
        no_worse = all(a <= b for a, b in zip(its, mine, strict=True))
        if other != harp and no_worse and (its != mine or other < harp):
            return not must[harp]
    return False


@st.composite
def problems(draw: st.DrawFn) -> dict[str, object]:
    tunes, harps = draw(st.integers(1, 6)), draw(st.integers(1, 6))
    size = tunes * harps
    cells = draw(st.lists(st.integers(-4, 6), min_size=size, max_size=size))
    cost = np.array(cells, np.int64).reshape(tunes, harps)
    each = st.lists(st.booleans(), min_size=harps, max_size=harps)
    must = np.array(draw(each)) & np.array(draw(each)) & np.array(draw(each))
    return {
        "can": cost >= 0,
        "cost": np.maximum(cost, 0) * draw(st.sampled_from([1, 137, 2503])),
        "counts": np.array(
            draw(st.lists(st.sampled_from([0, 500, 1000]), min_size=harps, max_size=harps))
        ),
        "odd": np.array(draw(each)),
        "must": must,
        "most_odd": draw(st.sampled_from([None, 0, 1, 2])),
    }


@settings(max_examples=120, deadline=None)
@given(problems(), st.sampled_from([None, 0, 1, 2, 3]), st.booleans())
def test_the_programme_finds_what_trying_every_choice_finds(
    problem: dict[str, np.ndarray], most: int | None, by_effort: bool
) -> None:
    expected = tried_out(**problem, most=most, by_effort=by_effort)
    found = Programme(**problem).solve(most, by_effort)
    if expected is None:
        assert found is None
        return
    harps, out, counted, effort = expected
    assert found is not None and found.proven
    assert (len(found.left_out), found.effort) == (out, effort)
    if not by_effort:
        assert found.counts == counted
    assert len(found.harps) == len(harps)
    # Of equal choices the one early in the list, harps passed over that others beat or equal.
    left = [h for h in range(len(problem["odd"])) if not passed_over(h, by_effort, **problem)]
    among = {
        key: value if key == "most_odd" else value[..., left] for key, value in problem.items()
    }
    harps, *_ = tried_out(**among, most=most, by_effort=by_effort)
    assert sum(found.harps) == sum(left[h] for h in harps)


def test_a_gap_is_told_where_there_was_no_time_to_prove() -> None:
    rng = np.random.default_rng(3)
    cost = rng.integers(0, 5000, (120, 60))
    no = np.zeros(60, bool)
    programme = Programme(cost < 2500, cost, np.full(60, 1000), no, no, None, seconds=1e-3)
    found = programme.solve(6)
    assert found is None or not found.proven


@pytest.mark.parametrize("most", [1, 2])
def test_harps_of_no_use_are_not_taken(most: int) -> None:
    cost = np.array([[300, 300, 900], [400, 400, 100]])
    no = np.zeros(3, bool)
    found = Programme(np.ones((2, 3), bool), cost, np.full(3, 0), no, no).solve(most)
    assert found is not None
    assert found.harps == ((0,) if most == 1 else (0, 2))
