"""What goes well after what: the facts of common practice, and the same figures for all at once."""

from __future__ import annotations

from dataclasses import fields
from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.harp.making import parse_harps
from reedwright.tab.sets.joins import (
    Place,
    begin_alike,
    join_cost,
    join_parts,
    join_words,
    key_step,
    may_follow,
)
from reedwright.tab.sets.paths import cheapest_order
from reedwright.tab.sets.rules import SetRules, Weights
from reedwright.tab.sets.stepping import bench_of
from reedwright.tab.sets.traits import Traits, family_of, traits_of
from reedwright.tune.abc import read_abc

HARPS = parse_harps("C, D, G")
RULES = SetRules()


def traits(**changes: object) -> Traits:
    usual = Traits("reel", 192.0, 40.0, 256, 2, False, "major", 62, 62, (2, 2, 1, 2, -2, -1, -2, 7))
    return usual._replace(**changes)


def place(moved: int = 0, work: float = 3.0, harp: int = 0, **changes: object) -> Place:
    return Place(traits(**changes), HARPS[harp], moved, 0.5, work)


def test_keys_lift_up_a_tone_up_a_fifth_and_into_another_mode_of_the_tonic() -> None:
    # Common practice as told in sessions, no source.
    d = place(tonic=2)
    lifts = [key_step(d, place(tonic=4))[0], key_step(d, place(tonic=9))[0]]
    lifts.append(key_step(d, place(tonic=2, mode="mixolydian"))[0])
    others = [key_step(d, place(tonic=tonic))[0] for tonic in (2, 0, 1, 3, 8)]
    assert max(lifts) < min(others)
    assert key_step(d, place(tonic=-1)) == (0.5, "")


def test_a_tune_that_is_moved_has_another_tonic() -> None:
    assert key_step(place(tonic=0, moved=2), place(tonic=2, moved=14))[1] == "up a tone"


def test_a_jig_follows_a_reel_only_where_it_is_asked_for() -> None:
    reel, jig = traits(), traits(type="jig")
    assert may_follow(reel, reel, RULES) and not may_follow(reel, jig, RULES)
    mixed = SetRules(mixed=(("double jig", "reel"),))
    assert may_follow(jig, reel, mixed) and not may_follow(reel, jig, mixed)


def test_types_that_are_played_alike_are_one() -> None:
    assert {family_of(each) for each in ("Jig", "double jig", "jigs")} == {"jig"}
    assert family_of("slip jig") == "slip jig" and family_of("hop jig") == "slip jig"
    assert family_of("something") == ""


def test_each_wish_is_weighed_by_its_own_weight() -> None:
    one = place(work=6.0, last=62)
    two = place(harp=1, tonic=3, speed=300.0, first=68, work=1.0)
    parts = join_parts(one, two, RULES)
    for name, cost in parts.items():
        assert cost > 0
        none = SetRules(weights=Weights(**{name: 0.0}))
        assert join_cost(one, two, none) == pytest.approx(join_cost(one, two, RULES) - cost)
    assert set(parts) < {each.name for each in fields(Weights)}


def test_two_tunes_begin_alike_where_most_of_their_first_steps_are_the_same() -> None:
    near = traits(opening=(2, 2, 1, 2, -2, -1, 5, 7))
    far = traits(opening=(-3, 5, 1, 2, 4, -1, 5, 2))
    assert begin_alike(traits(), near) and not begin_alike(traits(), far)
    assert not begin_alike(traits(opening=()), traits(opening=()))


def test_from_the_last_note_to_the_first_a_tritone_is_worse_than_a_step() -> None:
    last = place(last=62)
    costs = [join_parts(last, place(first=first), RULES)["join"] for first in (62, 64, 68, 80)]
    assert costs[0] == costs[1] == 0 and costs[2] == costs[3] > 0


def test_work_that_falls_is_bad_unless_the_hardest_goes_first() -> None:
    hard, easy = place(work=4.0), place(work=2.0)
    assert join_parts(hard, easy, RULES)["rising"] > join_parts(easy, hard, RULES)["rising"] == 0
    first = SetRules(hardest="first")
    assert join_parts(hard, easy, first)["rising"] == 0 < join_parts(easy, hard, first)["rising"]
    assert join_parts(hard, easy, SetRules(hardest="any"))["rising"] == 0


def test_the_words_say_key_harp_mode_and_what_is_not_good() -> None:
    one, two = place(tonic=2), place(harp=1, tonic=4, minor=True, mode="dorian", first=90)
    assert join_words(one, two, RULES) == (
        "up a tone, change to the D harp, into the minor; but they begin alike and the first note "
        "is hard to find from the last"
    )


def test_traits_are_read_from_the_tune_as_it_is_played() -> None:
    (tune,) = read_abc("X:1\nT:A\nR:jig\nM:6/8\nL:1/8\nQ:3/8=100\nK:Edor\n|:EFG ABc|E3 B3-|B6:|\n")
    found = traits_of(tune)
    assert found is not None
    assert (found.type, found.tonic, found.minor, found.mode) == ("jig", 4, True, "dorian")
    assert (found.first, found.last, found.notes) == (64, 71, 16)
    # Six bars of two dotted crotchets, a hundred of them a minute. A tied note counts once.
    assert found.seconds == pytest.approx(12 * 60 / 100)
    assert found.opening == (2, 1, 2, 2, 2, -9, 7, -7)


PLACES = st.builds(
    place,
    moved=st.sampled_from([-12, 0, 2, 12]),
    work=st.floats(0.5, 9.0),
    harp=st.integers(0, 2),
    type=st.sampled_from(["reel", "jig"]),
    speed=st.sampled_from([150.0, 160.0, 192.0]),
    tonic=st.integers(-1, 11),
    minor=st.booleans(),
    mode=st.sampled_from(["major", "dorian"]),
    first=st.integers(55, 85),
    last=st.integers(55, 85),
    opening=st.lists(st.integers(-1, 1), min_size=0, max_size=8).map(tuple),
)


@settings(max_examples=60, deadline=None)
@given(st.lists(PLACES, min_size=2, max_size=6), st.sampled_from(["last", "first", "any"]))
def test_all_joins_at_once_are_those_of_two_tunes_alone(places: list[Place], hardest: str) -> None:
    rules = SetRules(hardest=hardest, mixed=(("jig", "reel"),))
    tunes = [at // 2 for at in range(len(places))]
    bench = bench_of(places, tunes, rules)
    for a, one in enumerate(places):
        for b, two in enumerate(places):
            if tunes[a] == tunes[b] or not may_follow(one.traits, two.traits, rules):
                assert bench.step[a, b] == np.inf
            else:
                assert bench.step[a, b] == pytest.approx(join_cost(one, two, rules))


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_the_cheapest_order_is_that_of_all_orders_tried_out(data: st.DataObject) -> None:
    sizes = data.draw(st.lists(st.integers(1, 2), min_size=1, max_size=4))
    starts = np.cumsum([0, *sizes])
    groups = [tuple(range(a, b)) for a, b in pairwise(starts)]
    count = int(starts[-1])
    rng = np.random.default_rng(data.draw(st.integers(0, 10_000)))
    own, step = rng.integers(0, 9, count) / 2, rng.integers(0, 9, (count, count)) / 2
    step[rng.random((count, count)) < 0.2] = np.inf
    at = rng.integers(0, 3, (len(groups), count)) / 2
    first, last = rng.random(count) < 0.8, rng.random(count) < 0.8
    best = np.inf
    for order in permutations(range(len(groups))):
        for choice in np.ndindex(*sizes):
            nodes = [groups[g][choice[g]] for g in order]
            if first[nodes[0]] and last[nodes[-1]]:
                cost = own[nodes].sum() + step[nodes[:-1], nodes[1:]].sum()
                best = min(best, cost + at[range(len(nodes)), nodes].sum())
    found = cheapest_order(groups, own, step, first, last, at)
    if not np.isfinite(best):
        assert found is None
        return
    assert found is not None and found[0] == pytest.approx(best)
    nodes = list(found[1])
    assert sorted(next(g for g, group in enumerate(groups) if n in group) for n in nodes) == list(
        range(len(groups))
    )
    spent = (
        own[nodes].sum() + step[nodes[:-1], nodes[1:]].sum() + at[range(len(nodes)), nodes].sum()
    )
    assert spent == pytest.approx(best)
