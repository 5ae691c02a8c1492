"""Scores, the best and the frontier against brute force; relearning and tunes won by hand."""

from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judged_by_ranking import every_layout, judged, used_today

from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import find_tuning
from reedwright.player.loading import load_profile
from reedwright.tune.abc import read_abc
from reedwright.tune.reading import read_tunes
from reedwright.workshop.search.choosing import (
    by_effort,
    by_plain,
    earning,
    found,
    frontier,
    joined,
    relearned_share,
    scores_of,
)
from reedwright.workshop.search.engine import prepare, solve, usage
from reedwright.workshop.search.model import Change, SearchWishes

EXAMPLES = Path(__file__).resolve().parents[2] / "examples" / "tunes.abc"
BLOW = Breath.BLOW
RICHTER = find_tuning("richter")


class Rows(NamedTuple):
    missing: np.ndarray
    units: np.ndarray
    plain: np.ndarray
    played: np.ndarray


def only_free(*holes: int) -> frozenset[Reed]:
    return frozenset(
        Reed(hole, breath) for hole in range(1, 11) for breath in Breath if hole not in holes
    )


LAYOUTS = every_layout(SearchWishes(RICHTER, reeds=2, semitones=1, frozen=only_free(3, 7)))


def _table(seed: int):
    """Small numbers, so that there are many equals; usage likewise."""
    random = np.random.default_rng(seed)
    shape = (int(random.integers(1, 5)), len(LAYOUTS))
    rows = Rows(
        random.integers(0, 2, shape),
        random.integers(0, 4, shape) * 1024,
        random.integers(0, 2, shape).astype(bool),
        random.integers(1, 4, shape[0]),
    )
    return rows, {reed: int(random.integers(0, 3)) for layout in LAYOUTS for reed, _ in layout}


def tables():
    return st.integers(0, 2**32 - 1).map(_table)


@settings(max_examples=60, deadline=None)
@given(tables())
def test_the_scores_are_what_their_definition_says(table) -> None:
    rows, used = table
    scores = scores_of(rows, LAYOUTS, used)
    for index, layout in enumerate(LAYOUTS):
        score = scores.score(index)
        tunes = range(len(rows.played))
        assert score.plain == sum(bool(rows.plain[t, index]) for t in tunes)
        assert score.playable == sum(int(rows.missing[t, index]) == 0 for t in tunes)
        each = [int(rows.units[t, index]) / 1024 / int(rows.played[t]) for t in tunes]
        assert score.effort == pytest.approx(sum(each) / len(each), rel=1e-12)
        changed = sum(used.get(reed, 0) for reed, _ in layout)
        whole = sum(used.values())
        assert score.relearned == (changed / whole if whole else 0.0)


def beaten(one, other) -> bool:
    """Whether `other` is nowhere worse than `one`, and somewhere better."""
    return other != one and all(b <= a for a, b in zip(one, other, strict=True))


@settings(max_examples=100, deadline=None)
@given(tables())
def test_the_frontier_is_all_that_nothing_beats_and_nothing_else(table) -> None:
    rows, used = table
    scores = scores_of(rows, LAYOUTS, used)
    points = [
        (len(layout), float(scores.effort[index]), float(scores.relearned[index]))
        for index, layout in enumerate(LAYOUTS)
    ]
    told = [points[index] for index in frontier(scores)]
    unbeaten = {one for one in points if not any(beaten(one, other) for other in points)}
    assert set(told) == unbeaten
    assert len(told) == len(set(told))  # of equals one
    assert told == sorted(told)


@settings(max_examples=60, deadline=None)
@given(tables(), st.integers(0, 2))
def test_the_orders_are_by_effort_and_by_tunes_with_no_bends(table, reeds: int) -> None:
    rows, used = table
    scores = scores_of(rows, LAYOUTS, used)
    mine = [index for index, layout in enumerate(LAYOUTS) if len(layout) == reeds]
    efforts, plains = by_effort(scores, reeds).tolist(), by_plain(scores, reeds).tolist()
    assert sorted(efforts) == mine and sorted(plains) == mine
    # Equals by more tunes with no bends, then less to relearn.
    assert efforts == sorted(
        mine, key=lambda i: (scores.effort[i], -scores.plain[i], scores.relearned[i], i)
    )
    assert plains == sorted(
        mine, key=lambda i: (-scores.plain[i], scores.effort[i], scores.relearned[i], i)
    )


@settings(max_examples=60, deadline=None)
@given(tables())
def test_a_reed_too_many_is_not_told(table) -> None:
    rows, used = table
    scores = scores_of(rows, LAYOUTS, used)
    for index, worth in enumerate(earning(scores, np.arange(len(LAYOUTS)))):
        fewer = [
            other
            for other, layout in enumerate(LAYOUTS)
            if len(layout) == len(LAYOUTS[index]) - 1 and set(layout) < set(LAYOUTS[index])
        ]
        assert len(fewer) == len(LAYOUTS[index])
        assert worth == all(
            scores.effort[index] < scores.effort[other] or scores.plain[index] > scores.plain[other]
            for other in fewer
        )


@settings(max_examples=30, deadline=None)
@given(tables(), st.integers(0, len(LAYOUTS)))
def test_scores_in_pieces_are_the_same_to_the_bit(table, cut: int) -> None:
    rows, used = table
    whole = scores_of(rows, LAYOUTS, used)
    parts = [
        scores_of(
            Rows(rows.missing[:, a:b], rows.units[:, a:b], rows.plain[:, a:b], rows.played),
            LAYOUTS[a:b],
            used,
        )
        for a, b in ((0, cut), (cut, len(LAYOUTS)))
    ]
    again = joined(parts)
    assert again.layouts == whole.layouts
    for name in ("plain", "playable", "effort", "relearned", "semitones", "tunes"):
        assert np.array_equal(getattr(again, name), getattr(whole, name)), name


def test_tunes_won_and_lost_are_against_the_tuning_as_it_is() -> None:
    layouts = [(), (Change(Reed(3, BLOW), 2),)]
    plain = np.array([[True, True], [False, True], [True, False], [False, False]])
    rows = Rows(np.zeros((4, 2), int), np.ones((4, 2), int), plain, np.ones(4, int))
    told = found(scores_of(rows, layouts, {}), 1, plain[:, 0])
    assert (told.won, told.lost) == ((1,), (2,))
    assert told.score.plain == 2


def test_what_is_to_be_relearned_worked_out_by_hand() -> None:
    """The harp in C has C4 in 1 blow and E4 in 2 blow and nowhere else (standard tuning)."""
    (tune,) = read_abc("X:1\nT:Low\nM:4/4\nL:1/4\nK:C\n|: E, C, E, C, :|\n")
    wishes = SearchWishes(RICHTER, keys=("C",), octaves=(1,))
    problem = prepare([tune], load_profile("player"), wishes)
    used = usage(problem)
    # An octave up: E4 and C4, which only 2 blow and 1 blow sound; four notes, played twice.
    assert used == {Reed(1, BLOW): 4, Reed(2, BLOW): 4}
    assert relearned_share((Change(Reed(2, BLOW), 1),), used) == 0.5
    assert relearned_share((Change(Reed(2, BLOW), 1), Change(Reed(1, BLOW), 1)), used) == 1.0
    assert relearned_share((Change(Reed(3, BLOW), 2),), used) == 0.0


def test_search_and_ranking_agree_on_scores_and_usage() -> None:
    """The engine's numbers, scored, against those of the ranking of harps, another road."""
    tunes = list(read_tunes(EXAMPLES))[:3]
    player = load_profile("player")
    wishes = SearchWishes(RICHTER, reeds=1, semitones=2, keys=("G", "D"), frozen=only_free(3))
    layouts = every_layout(wishes)
    problem = prepare(tunes, player, wishes)
    used = used_today(tunes, player, wishes)
    assert sum(used.values()) == sum(usage(problem).values())
    assert used == usage(problem)
    ours = scores_of(solve(problem, layouts, workers=1), layouts, usage(problem))
    theirs = scores_of(judged(tunes, player, wishes, layouts), layouts, used)
    for index in range(len(layouts)):
        assert ours.score(index) == theirs.score(index), layouts[index]


def test_equal_numbers_of_layouts_here_and_there() -> None:
    from reedwright.workshop.search.layouts import all_layouts
    from reedwright.workshop.search.plainness import count_layouts

    wishes = SearchWishes(RICHTER, reeds=2, semitones=2)
    assert list(all_layouts(wishes)) == every_layout(wishes)
    # 20 reeds, 4 ways each: 80; 190 pairs of reeds, 16 ways: 3,040; 1,140 triples, 64 ways.
    assert [count_layouts(wishes, reeds) for reeds in range(4)] == [1, 80, 3040, 72_960]
    assert count_layouts(replace(wishes, frozen=only_free(3)), 3) == 0
