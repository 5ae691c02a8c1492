"""The k best fingerings are the k best, in the documented order, and truly different.

Outside checks: NetworkX's `shortest_simple_paths` (J. Y. Yen's algorithm) on chains; trying
every tab on short tunes with repeats, endings and ties.
"""

from __future__ import annotations

import itertools
import random
from itertools import islice

import networkx
import numpy as np
import pytest
from played_effort import (
    choices,
    effort_as_played,
    graph_of_tabs,
    random_tune,
    sounded,
    tempo_of,
    tied_groups,
)

from reedwright.harp.making import KEYS, make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange, posed
from reedwright.tab.effort import SCALE
from reedwright.tab.fingerings import different as fingerings_module
from reedwright.tab.fingerings.different import best_fingerings
from reedwright.tab.fingerings.kbest import instead, k_best
from reedwright.tab.fingerings.text import fingerings_report, fingerings_text
from reedwright.tab.solver import NEVER, Problems
from reedwright.tab.wishes import Wishes
from reedwright.tune.abc import read_abc

TUNINGS = ("richter", "richter-raised-3-blow", "richter-raised-5-draw", "solo")


def random_harp(rng):
    return make_harp(rng.choice(KEYS), rng.choice(TUNINGS), valves=rng.choice(["none", "half"]))


def ways_of(tune, harp, player, fixed=()):
    fixed = dict(fixed)
    found = []
    for group, ways in zip(tied_groups(tune), choices(tune, harp, player), strict=True):
        pinned = [fixed[id_] for id_ in group if id_ in fixed]
        found.append(pinned[:1] or ways)
    return found


def path_costs(graph, k):
    paths = networkx.shortest_simple_paths(graph, "start", "end", weight="weight")
    return [networkx.path_weight(graph, path, "weight") for path in islice(paths, k)]


@pytest.mark.no_cover
def test_equals_networkx_shortest_simple_paths_on_chains() -> None:
    rng = random.Random(20261125)
    tried = 0
    while tried < 60:
        tune = random_tune(rng, rng.randint(3, 8), repeats=False)
        harp, player = random_harp(rng), load_profile("all-techniques")
        if np.prod([len(each) for each in choices(tune, harp, player)]) < 6:
            continue
        tried += 1
        found = k_best(posed(tune, harp, player).problems, 6)
        expected = path_costs(graph_of_tabs(tune, harp, player, ways_of(tune, harp, player)), 6)
        assert [cost for cost, _ in found] == expected
        assert len(found) == 6


def test_a_pinned_tune_equals_networkx_too() -> None:
    rng = random.Random(5)
    for _ in range(25):
        tune = random_tune(rng, 6, repeats=False)
        harp, player = random_harp(rng), load_profile("all-techniques")
        groups = [
            (group, ways)
            for group, ways in zip(tied_groups(tune), ways_of(tune, harp, player), strict=True)
            if ways != [None]
        ]
        pins = {
            group[0]: rng.choice(ways) for group, ways in rng.sample(groups, min(3, len(groups)))
        }
        found = k_best(posed(tune, harp, player, wishes=Wishes(fixed=pins)).problems, 4)
        ways = ways_of(tune, harp, player, pins)
        assert [cost for cost, _ in found] == path_costs(graph_of_tabs(tune, harp, player, ways), 4)


def every_tab(tune, harp, player):
    """All tabs of a short tune as (cost, states), in the documented order."""
    ways = choices(tune, harp, player)
    groups, tempo = tied_groups(tune), tempo_of(tune)
    found = []
    for states in itertools.product(*(range(len(each)) for each in ways)):
        soundings = {
            id_: mine[state]
            for group, mine, state in zip(groups, ways, states, strict=True)
            if mine[state] is not None
            for id_ in group
        }
        found.append((effort_as_played(tune, soundings, harp, player, tempo), states))
    return sorted(found)


def short_tunes(rng, count, most=250):
    """Tunes with repeats that have several tabs but not too many to try."""
    while count:
        tune = random_tune(rng, 3, repeats=True, low=60, high=76)
        harp, player = random_harp(rng), load_profile("all-techniques")
        number = np.prod([len(each) for each in choices(tune, harp, player)])
        if 8 <= number <= most:
            count -= 1
            yield tune, harp, player


def test_equals_trying_everything_with_repeats_also_in_order_among_equals() -> None:
    for tune, harp, player in short_tunes(random.Random(2), 12):
        everything = every_tab(tune, harp, player)
        assert k_best(posed(tune, harp, player).problems, 10) == everything[:10]


def test_within_some_notes_others_follow_at_least_effort() -> None:
    rng = random.Random(9)
    for tune, harp, player in short_tunes(rng, 10):
        problems = posed(tune, harp, player).problems
        within = sorted(rng.sample(range(len(problems.single)), len(problems.single) // 2))
        seen, expected = set(), []
        for cost, states in every_tab(tune, harp, player):
            mine = tuple(states[i] for i in within)
            if mine not in seen:
                seen.add(mine)
                expected.append((cost, states))
        assert k_best(problems, 8, within) == expected[:8]
        assert len(k_best(problems, 10**6, within)) == len(expected)  # fewer than asked for


def test_of_answers_that_cost_the_same_the_first_in_written_order_comes_first() -> None:
    nothing = Problems(
        [np.zeros((2, 1), np.int64) for _ in range(4)],
        {(i, i + 1): np.zeros((2, 2, 1), np.int64) for i in range(3)},
        1,
    )
    assert [states for _, states in k_best(nothing, 16)] == list(
        itertools.product((0, 1), repeat=4)
    )


def test_a_state_that_is_not_there_is_never_taken() -> None:
    single = np.array([[3], [NEVER], [5]], np.int64)
    assert k_best(Problems([single], {}, 1), 9) == [(3, (0,)), (5, (2,))]


def test_instead_is_the_least_with_that_state() -> None:
    for tune, harp, player in short_tunes(random.Random(4), 8):
        problems = posed(tune, harp, player).problems
        everything = every_tab(tune, harp, player)
        wanted = [
            (i, state)
            for i, single in enumerate(problems.single)
            for state in range(len(single))
            if single[state, 0] < NEVER
        ]
        for (i, state), answer in zip(wanted, instead(problems, wanted), strict=True):
            assert answer == next(each for each in everything if each[1][i] == state)


def test_fingerings_of_a_bar_differ_in_that_bar_and_are_exact() -> None:
    rng = random.Random(12)
    for tune, harp, player in short_tunes(rng, 8):
        bar = rng.choice([each.number for each in tune.bars if each.notes])
        ids = {note.id for each in tune.bars if each.number == bar for note in each.notes}
        within = [i for i, group in enumerate(tied_groups(tune)) if group[0] in ids]
        expected, seen = [], set()
        for cost, states in every_tab(tune, harp, player):
            mine = tuple(states[i] for i in within)
            if mine not in seen:
                seen.add(mine)
                expected.append(cost)
        found = best_fingerings(arrange(tune, harp, player), 5, (bar,))
        assert [each.effort * SCALE for each in found.found] == expected[:5]
        assert all(each.proven for each in found.found)
        assert found.all_there_are == (len(expected) <= 5)


def played_counts(tune):
    counts = dict.fromkeys(tied_groups(tune), 0)
    for one in sounded(tune):
        counts[next(group for group in counts if one.note.id in group)] += 1
    return list(counts.values())


@pytest.mark.parametrize("enumerated", [1, 30])
def test_fingerings_of_a_tune_are_far_apart_and_no_easier_one_is_claimed_away(
    enumerated: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Against every tab: each next one is the least that is far enough from all above it. With
    # 1 tab enumerated the search must find the rest, and its bound must hold.
    monkeypatch.setattr(fingerings_module, "MOST_ENUMERATED", enumerated)
    apart = 3
    searched = optimal = 0
    for tune, harp, player in short_tunes(random.Random(21), 12, most=3000):
        everything = every_tab(tune, harp, player)
        counts = np.array(played_counts(tune))
        ways, groups = choices(tune, harp, player), tied_groups(tune)

        def distance(one, two, counts=counts):
            return int(counts[np.not_equal(one, two)].sum())

        found = best_fingerings(arrange(tune, harp, player), 3, apart=apart)
        taken = []
        for each in found.found:
            states = tuple(
                mine.index(each.soundings.get(group[0]))
                for group, mine in zip(groups, ways, strict=True)
            )
            assert all(distance(states, other) >= apart for other in taken)
            least = min(
                cost
                for cost, others in everything
                if all(distance(others, other) >= apart for other in taken)
            )
            cost = each.effort * SCALE
            assert cost >= least
            assert cost - each.at_most * SCALE <= least
            if each.proven:
                assert cost == least
            else:
                searched += 1
                optimal += cost == least
            taken.append(states)
    if enumerated == 1:
        assert searched > 8
        assert 3 * optimal >= 2 * searched  # it is a search and no proof: 7 of 9 here


SEVERAL_WAYS = "X:1\nT:Two ways\nM:4/4\nL:1/4\nK:C\nGAGE|GGAG|FGEG|G4|]\n"


def test_the_text_numbers_them_and_says_what_differs_and_why() -> None:
    (tune,) = read_abc(SEVERAL_WAYS)
    arrangement = arrange(tune, make_harp("C"), load_profile("player"))
    text = fingerings_text(arrangement, best_fingerings(arrangement, 5, (2,)))
    assert "the least effort" in text
    assert "G4 as 2 draw instead of 3 blow in bar 2" in text
    assert "breath change" in text
    whole = fingerings_text(arrangement, best_fingerings(arrangement, 5))
    assert "differs from every one above it" in whole


def test_a_bar_with_one_way_only_says_so() -> None:
    (tune,) = read_abc("X:1\nT:One way\nM:4/4\nL:1/4\nK:C\ncdef|]\n")
    arrangement = arrange(tune, make_harp("C"), load_profile("first-year"))
    found = best_fingerings(arrangement, 5, (1,))
    assert len(found.found) == 1 and found.all_there_are
    assert "no other way" in fingerings_text(arrangement, found)


def test_the_report_holds_what_the_text_says() -> None:
    (tune,) = read_abc(SEVERAL_WAYS)
    arrangement = arrange(tune, make_harp("C"), load_profile("player"))
    report = fingerings_report(best_fingerings(arrangement, 3, (2,)))
    assert report["bars"] == [2] and len(report["fingerings"]) == 3
    first, second, _ = report["fingerings"]
    assert first["more"] == 0 and first["differences"] == []
    assert second["more"] == second["effort"] - first["effort"] > 0
