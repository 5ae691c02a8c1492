"""Evenings: the player's rules hold, the order is the best, and what is left out has a reason."""

from __future__ import annotations

import json
import random
from itertools import pairwise, permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sets_tunes import table_of, tunes_of

from reedwright.harp.making import parse_harps
from reedwright.tab.sets import evenings
from reedwright.tab.sets.efforts import EffortTable
from reedwright.tab.sets.evenings import order_set, plan_evening
from reedwright.tab.sets.joins import Place, join_cost
from reedwright.tab.sets.model import Evening
from reedwright.tab.sets.report import evening_report
from reedwright.tab.sets.rules import SetRules
from reedwright.tab.sets.text import evening_text
from reedwright.tab.sets.traits import traits_of
from reedwright.tab.sets.wishes import HarpWishes, Limit, SetsError

KINDS = [("reel", "D"), ("reel", "G"), ("jig", "Edor"), ("reel", "A"), ("jig", "G"), ("jig", "D"),
         ("reel", "Ador"), ("jig", "A"), ("waltz", "D"), ("reel", "C"), ("waltz", "G")]  # fmt: skip
TUNES = tunes_of(*KINDS)


def table(seed: int = 0, count: int = len(TUNES), harps: int = 2) -> EffortTable:
    rng = random.Random(seed)
    efforts = [
        [rng.choice([0.4, 0.6, 0.9, 1.3]) if at == 0 or rng.random() < 0.7 else None
         for at in range(harps)]
        for _ in range(count)
    ]  # fmt: skip
    return table_of(TUNES[:count], ["D", "G", "C"][:harps], efforts)


def titles(evening: Evening) -> list[str]:
    return ["".join(entry.tune.title for entry in each.entries) for each in evening.sets]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 4), st.sampled_from(["last", "first"]))
def test_one_set_is_in_the_best_order_on_the_best_harps(
    seed: int, count: int, hardest: str
) -> None:
    tunes = tunes_of(*[("reel", KINDS[at][1]) for at in range(count)], seed=seed)
    rng = random.Random(seed)
    efforts = [[rng.choice([0.4, 0.9]), rng.choice([None, 0.4, 0.9])] for _ in tunes]
    rules = SetRules(hardest=hardest)
    found = order_set(table_of(tunes, ["D", "G"], efforts), rules=rules)

    def at(tune: int, harp: int) -> Place:
        traits = traits_of(tunes[tune])
        effort = efforts[tune][harp]
        assert traits is not None and effort is not None
        work = effort * traits.notes / traits.seconds
        return Place(traits, parse_harps("D, G")[harp], 0, effort, work)

    def cost(places: list[Place]) -> float:
        joins = sum(join_cost(a, b, rules) for a, b in pairwise(places))
        return joins + sum(place.effort for place in places)

    best = min(
        cost([at(tune, harp) for tune, harp in zip(order, harps, strict=True)])
        for order in permutations(range(count))
        for harps in product(range(2), repeat=count)
        if all(efforts[t][h] is not None for t, h in zip(order, harps, strict=True))
    )
    keys = [harp.key for harp in parse_harps("D, G")]
    places = [at(tunes.index(entry.tune), keys.index(entry.harp.key)) for entry in found.entries]
    assert cost(places) == pytest.approx(best)


def test_every_tune_is_played_once_and_sets_keep_to_one_type() -> None:
    planned = plan_evening(table())
    played = [entry.tune for each in planned.evening.sets for entry in each.entries]
    assert len(played) == len(set(map(id, played))) == len(TUNES)
    for each in planned.evening.sets:
        assert len({entry.tune.type for entry in each.entries}) == 1
        assert 2 <= len(each.entries) <= 4
    assert planned.short_of == 0 and planned.ordered and not planned.left_out


def test_neighbouring_sets_are_of_different_types_where_that_can_be() -> None:
    sets = plan_evening(table(), sets=3).evening.sets
    kinds = [each.entries[0].tune.type for each in sets]
    assert all(a != b for a, b in pairwise(kinds))
    assert {each.name.partition(": ")[2] for each in sets} <= {"reels", "jigs", "waltzes"}


@pytest.mark.parametrize("seed", range(4))
def test_the_players_rules_hold(seed: int) -> None:
    rules = SetRules(
        follow=(("A", "D"),),
        apart=(("B", "G"),),
        first="C",
        last="B",
        keep=(("K", "I"),),
        times=2,
    )
    planned = plan_evening(table(seed), rules=rules)
    found = titles(planned.evening)
    joined = " ".join(found)
    assert joined.startswith("C") and joined.endswith("B")
    assert "AD" in joined and "KI" in found
    assert not any("B" in each and "G" in each for each in found)
    assert all(entry.times == 2 for each in planned.evening.sets for entry in each.entries)


def test_a_type_that_is_a_little_easier_does_not_make_all_the_sets() -> None:
    tunes = tunes_of(*[("reel", "D")] * 6, *[("jig", "D")] * 3)
    pool = table_of(tunes, ["D"], [[0.4]] * 6 + [[0.45]] * 3)
    kinds = [each.entries[0].tune.type for each in plan_evening(pool, sets=2).evening.sets]
    assert sorted(kinds) == ["jig", "reel"]


def test_tunes_that_are_to_stand_apart_make_no_set() -> None:
    two = table().take([0, 1])
    with pytest.raises(SetsError, match="A and B are to stand apart"):
        order_set(two, rules=SetRules(apart=(("A", "B"),)))


@pytest.mark.parametrize("sets", [1, 2, 3])
def test_the_first_and_the_last_tune_stand_at_the_ends_however_many_sets_there_are(
    sets: int,
) -> None:
    joined = "".join(
        titles(plan_evening(table(), rules=SetRules(first="A", last="D"), sets=sets).evening)
    )
    assert joined[0] == "A" and joined[-1] == "D"


def test_types_come_in_the_order_asked_for() -> None:
    rules = SetRules(types=("jig", "waltz", "reel"))
    sets = plan_evening(table(), rules=rules, sets=3).evening.sets
    assert [each.entries[0].tune.type for each in sets] == ["jig", "waltz", "reel"]


def test_a_jig_goes_into_a_reel_where_types_may_be_mixed() -> None:
    jig_reel = table(count=6).take([0, 2])
    with pytest.raises(SetsError, match="cannot stand in one set"):
        order_set(jig_reel)
    found = order_set(jig_reel, rules=SetRules(mixed=(("jig", "reel"),)))
    assert [entry.tune.type for entry in found.entries] == ["jig", "reel"]
    assert "from jig to reel" in found.entries[1].why


def test_as_many_sets_as_fit_into_the_minutes() -> None:
    long = plan_evening(table(), minutes=6)
    short = plan_evening(table(), minutes=2)
    assert len(short.evening.sets) < len(long.evening.sets)
    assert long.seconds < 6.5 * 60
    bars = 2 * 4 * 3  # four bars, repeated, three times
    reel = next(s for s in long.evening.sets if s.entries[0].tune.type == "reel")
    # A bar of a reel is two minims, 96 of them a minute (src/reedwright/tune/tempi.toml).
    minutes = len(reel.entries) * bars * 2 / 96
    assert f"about {max(1, round(minutes))} min" in reel.why


def test_few_harps_are_chosen_where_the_rules_ask_for_few() -> None:
    three = table(3, harps=3)
    one = plan_evening(three, rules=SetRules(most_harps=1), sets=2)
    assert len(one.evening.harps) == 1
    (d,) = parse_harps("D")
    without = plan_evening(three, sets=2, wishes=HarpWishes(never=(d,)))
    assert d not in without.evening.harps


def test_a_tune_that_finds_no_place_is_told_with_the_reason() -> None:
    lone = table_of(TUNES[:3], ["D"], [[0.5], [0.6], [0.4]])  # two reels and a jig
    planned = plan_evening(lone)
    (out,) = planned.left_out
    assert out.tune.title == "C" and "stands alone" in out.why
    unplayable = table_of(TUNES[:3], ["D"], [[0.5], [0.6], [None]])
    (out,) = plan_evening(unplayable).left_out
    assert out.why.startswith("no harp has all its notes")
    with pytest.raises(SetsError, match="No set can be made"):
        plan_evening(lone.take([0, 2]))
    with pytest.raises(SetsError, match="None of the tunes"):
        plan_evening(lone, Limit(per_note=0.1))


def test_rules_that_name_what_is_not_there_are_told() -> None:
    with pytest.raises(SetsError, match="'Zebra' is not among the tunes"):
        plan_evening(table(), rules=SetRules(first="Zebra"))
    twins = table_of([TUNES[0], TUNES[0]], ["D"], [[0.5], [0.5]])
    with pytest.raises(SetsError, match="name of several tunes"):
        plan_evening(twins, rules=SetRules(first="A"))
    with pytest.raises(SetsError, match="stands twice"):
        plan_evening(table(), rules=SetRules(keep=(("A", "B"), ("B", "D"))))
    with pytest.raises(SetsError, match="drop a rule"):
        plan_evening(table(), rules=SetRules(follow=(("A", "B"),), apart=(("B", "A"),)))
    with pytest.raises(SetsError, match="give 1 or more"):
        plan_evening(table(), sets=0)
    with pytest.raises(SetsError, match="usual one between"):
        SetRules(fewest=3, most=2)


@pytest.mark.parametrize(
    ("rules", "told"),
    [
        ({"follow": (("A", "D"),), "last": "A"}, "A cannot be last: D is to follow it"),
        ({"follow": (("A", "D"),), "first": "D"}, "D cannot be first"),
        ({"follow": (("A", "D"), ("A", "B"))}, "A is followed by two"),
        ({"follow": (("A", "D"), ("B", "D"))}, "D follows two"),
        ({"follow": (("A", "B"), ("B", "A"))}, "cannot; drop a rule"),
        ({"follow": (("A", "B"), ("B", "D"), ("D", "B"))}, "drop a rule"),
        ({"follow": (("A", "A"),)}, "cannot; drop a rule"),
        ({"follow": (("A", "B"),), "keep": (("B", "A"),)}, "a set to keep forbids it"),
        ({"apart": (("A", "B"),), "keep": (("B", "A"),)}, "in a set to keep and apart"),
        ({"first": "A", "keep": (("B", "A"),)}, "a set to keep has it elsewhere"),
    ],
)
def test_rules_that_contradict_each_other_are_told(rules: dict[str, object], told: str) -> None:
    with pytest.raises(SetsError, match=told):
        plan_evening(table(), rules=SetRules(**rules))


def test_many_sets_are_put_in_an_order_that_no_single_move_makes_better() -> None:
    rng = np.random.default_rng(1)
    step, at = rng.random((16, 16)), np.zeros((16, 16))

    def cost(order: list[int]) -> float:
        return float(sum(step[a, b] for a, b in pairwise(order)))

    order = evenings._improved(step, at)
    assert sorted(order) == list(range(16))
    for place in order:
        rest = [each for each in order if each != place]
        for k in range(16):
            assert cost([*rest[:k], place, *rest[k:]]) >= cost(order) - 1e-9


def test_the_text_and_the_data_tell_sets_harps_and_reasons() -> None:
    planned = plan_evening(table(), sets=2, title="Thursday")
    text = evening_text(planned)
    assert text.startswith("Thursday\n\nSet 1: ") and "Harps: " in text
    assert "no other sets of these tunes on these harps are better" in text
    data = json.loads(json.dumps(evening_report(planned)))
    assert [len(each["tunes"]) for each in data["sets"]] == [
        len(each.entries) for each in planned.evening.sets
    ]
    assert data["short_of"] == 0
    assert "short_of" not in evening_report(planned.evening)
