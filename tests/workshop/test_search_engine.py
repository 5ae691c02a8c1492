"""The search engine: on every layout the very numbers of the ranking, whatever is left out."""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from judged_by_ranking import every_layout, judged, used_today
from search_tunes import made_tune

from reedwright.errors import ReedwrightError
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import find_tuning
from reedwright.player.loading import load_profile
from reedwright.tab.effort import encoded
from reedwright.tab.ornaments.playable import Demand, ornamenting
from reedwright.tab.ways import usable_ways
from reedwright.tune.abc import read_abc
from reedwright.workshop.search.engine import prepare, solve_some, solve_tune, usage
from reedwright.workshop.search.graces import Ornaments
from reedwright.workshop.search.holes import NOTHING, holes_of
from reedwright.workshop.search.layouts import all_layouts
from reedwright.workshop.search.model import Change, SearchWishes, layout_tuning
from reedwright.workshop.search.tunesolving import Bench, solved

SETTINGS = [
    ("first-year", "richter", "none"),
    ("player", "richter", "none"),
    ("all-techniques", "richter", "none"),
    ("first-year", "natural-minor", "half"),
    ("player", "natural-minor", "half"),
    ("all-techniques", "harmonic-minor", "blow 1-4, draw 8"),
    ("player", "slide-solo-12", "full"),
]


def wishes(base: str = "richter", valves: str = "none", **more) -> SearchWishes:
    more.setdefault("reeds", 2)
    return SearchWishes(find_tuning(base), valves=valves, **more)


def some_layouts(rng: random.Random, asked: SearchWishes, count: int):
    every = all_layouts(asked)
    singles = [layout for layout in every if len(layout) == 1]
    pairs = [layout for layout in every if len(layout) == 2]
    return ((), *rng.sample(singles, count), *rng.sample(pairs, count))


def three_changed(rng: random.Random, asked: SearchWishes):
    reeds = sorted(
        rng.sample([Reed(hole, breath) for hole in range(1, 11) for breath in Breath], 3),
        key=lambda reed: (reed.hole, reed.breath is Breath.DRAW),
    )
    return tuple(Change(reed, rng.choice((-2, -1, 1, 2))) for reed in reeds)


def agree(row, expected, tune: int) -> None:
    assert row.missing.tolist() == expected.missing[tune].tolist()
    assert row.units.tolist() == expected.units[tune].tolist()
    assert row.plain.tolist() == expected.plain[tune].tolist()


@pytest.mark.no_cover
@pytest.mark.parametrize(("player", "base", "valves"), SETTINGS)
def test_every_number_is_that_of_the_ranking(player: str, base: str, valves: str) -> None:
    rng = random.Random(f"{player} {base}")
    asked = wishes(base, valves, keys=("G", "A", "C", "D", "F"))
    profile = load_profile(player)
    tunes = [made_tune(rng) for _ in range(3)]
    layouts = [*some_layouts(rng, asked, 5), *(three_changed(rng, asked) for _ in range(3))]
    expected = judged(tunes, profile, asked, layouts)
    problem = prepare(tunes, profile, asked)
    for place, row in enumerate(solve_some(problem, range(3), layouts)):
        agree(row, expected, place)


def test_a_note_repeated_follows_itself() -> None:
    (tune,) = read_abc("X:1\nT:Drone\nM:none\nL:1/8\nK:C\n|::^c4::|[|: d2 | ^A2 :|\n")
    rng, profile = random.Random(3), load_profile("player")
    asked = wishes(keys=("C", "G"), octaves=(0,))
    problem = prepare([tune], profile, asked)
    moves = problem.tunes[0].chain.moves
    assert max(times for move, times in moves.items() if move.one == move.two) == 2
    layouts = some_layouts(rng, asked, 8)
    agree(solve_tune(problem, 0, layouts), judged([tune], profile, asked, layouts), 0)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10**6))
def test_made_up_tunes_on_made_up_layouts(seed: int) -> None:
    rng = random.Random(seed)
    asked = wishes(
        rng.choice(("richter", "richter-raised-5-draw", "natural-minor")),
        rng.choice(("none", "half")),
        keys=tuple(rng.sample(("G", "A", "Bb", "C", "D", "E"), 3)),
        octaves=tuple(rng.sample((-1, 0, 1), rng.randint(1, 3))),
    )
    profile = load_profile(rng.choice(("first-year", "player")))
    tune = made_tune(rng, bars=rng.randint(3, 5))
    layouts = some_layouts(rng, asked, 3)
    expected = judged([tune], profile, asked, layouts)
    agree(solve_tune(prepare([tune], profile, asked), 0, layouts), expected, 0)


@pytest.mark.parametrize("player", ["first-year", "player"])
def test_what_is_left_out_cannot_matter(player: str) -> None:
    rng = random.Random(player)
    asked = wishes(keys=("G", "C", "D"))
    layouts = some_layouts(rng, asked, 20)
    tunes = [made_tune(rng, bars=4) for _ in range(3)]
    problem = prepare(tunes, load_profile(player), asked)
    lean, full = Bench(problem, layouts), Bench(problem, layouts, prune=False)
    for tune in problem.tunes:
        for mine, theirs in zip(solved(tune, lean), solved(tune, full), strict=True):
            assert mine.tolist() == theirs.tolist()
    assert full.problems == 3 * len(layouts) * 9
    assert 4 * lean.problems < full.problems


@pytest.mark.parametrize(("player", "base", "valves"), SETTINGS)
def test_the_states_of_holes_sound_what_the_harp_sounds(player, base, valves) -> None:
    rng = random.Random(f"{base} {valves}")
    asked, profile = wishes(base, valves), load_profile(player)
    layouts = some_layouts(rng, asked, 8)
    holes = holes_of(asked, profile, layouts)
    for place, layout in enumerate(layouts):
        harp = make_harp("C", layout_tuning(asked.base, layout), valves=valves)
        found = []
        for hole, state in enumerate(holes.states[place]):
            for slot in np.nonzero(holes.midi[state] != NOTHING)[0]:
                way = holes.way_of[hole, slot]
                numbers = [int(each[way]) for each in holes.ways]
                found.append((int(holes.midi[state, slot]) + harp.transpose, *numbers))
        expected = [
            (midi, *encoded(way))
            for midi, ways in usable_ways(harp, profile).items()
            for way in ways
        ]
        assert sorted(found) == sorted(expected)


@pytest.mark.parametrize(("player", "base", "valves"), SETTINGS)
def test_ornaments_cost_what_they_cost_the_arranger(player, base, valves) -> None:
    rng = random.Random(f"{valves} {player}")
    asked, profile = wishes(base, valves), load_profile(player)
    layouts = some_layouts(rng, asked, 4)
    holes = holes_of(asked, profile, layouts)
    ornaments = Ornaments(asked, profile, holes)
    shapes = [Demand(what) for what in ("up", "down", "both", "shake", "tongue")]
    for place, layout in enumerate(layouts):
        harp = make_harp("C", layout_tuning(asked.base, layout), valves=valves)
        rule = ornamenting(harp, profile)
        for hole, state in enumerate(holes.states[place]):
            for way in (each for ways in usable_ways(harp, profile).values() for each in ways):
                slots = [
                    slot
                    for slot in np.nonzero(holes.midi[state] == way.midi - harp.transpose)[0]
                    if tuple(int(each[holes.way_of[hole, slot]]) for each in holes.ways)
                    == (
                        way.hole,
                        int(way.breath is Breath.DRAW),
                        list(type(way.technique)).index(way.technique),
                        way.bend,
                        int(way.slide),
                    )
                ]
                for number in (int(holes.way_of[hole, slot]) for slot in slots):
                    for demand in shapes:
                        assert ornaments.by_way(demand)[number] == rule.realised(way, demand).effort
                    demands = [Demand("bend")] + [
                        Demand("grace", way.midi + rng.randint(-7, 7), last)
                        for last in (True, False)
                    ]
                    demands.append(Demand("grace", way.midi, False))
                    for demand in demands:
                        (effort,) = ornaments.efforts(
                            demand._replace(midi=demand.midi - 7),
                            holes.states[[place]],
                            np.array([7 - harp.transpose]),
                            np.array([number]),
                        )
                        assert effort == rule.realised(way, demand).effort, (way, demand)


@pytest.mark.no_cover
def test_reeds_are_counted_as_the_arranger_plays_them() -> None:
    rng = random.Random(11)
    asked, profile = wishes(), load_profile("player")
    tunes = [made_tune(rng) for _ in range(3)]
    assert usage(prepare(tunes, profile, asked)) == dict(used_today(tunes, profile, asked))


def test_a_tune_without_notes_is_no_gain_for_any_layout() -> None:
    tune = replace(made_tune(random.Random(2)), voices=())
    problem = prepare([tune], load_profile("player"), wishes(reeds=1))
    layouts = all_layouts(problem.wishes)
    row = solve_tune(problem, 0, layouts)
    assert not row.missing.any() and not row.units.any() and not row.plain.any()
    assert usage(problem) == {}


def test_all_single_changes_and_all_pairs_are_tried() -> None:
    layouts = all_layouts(wishes())
    # 20 reeds, four ways to move each: 80 single changes, and 190 pairs of reeds in 16 ways.
    assert [sum(len(each) == count for each in layouts) for count in range(3)] == [1, 80, 3040]
    assert layouts[0] == () and len(set(layouts)) == len(layouts)
    assert set(layouts) == set(every_layout(wishes()))


def test_frozen_reeds_stay() -> None:
    kept = frozenset({Reed(1, Breath.BLOW), Reed(3, Breath.DRAW)})
    layouts = all_layouts(wishes(frozen=kept))
    assert not any(change.reed in kept for layout in layouts for change in layout)
    assert len(layouts) == 1 + 18 * 4 + 18 * 17 // 2 * 16


def test_no_reed_leaves_what_a_harp_can_have() -> None:
    low = find_tuning("richter")
    low = type(low)("low", "low", "", tuple(m - 28 for m in low.blow), low.draw)
    layouts = all_layouts(SearchWishes(low, reeds=1))
    # Hole 1 blow is G sharp 1 (MIDI 32), a semitone above the lowest that a tuning file may have.
    assert {c.semitones for (c,) in layouts[1:] if c.reed == Reed(1, Breath.BLOW)} == {-1, 1, 2}


def test_what_cannot_be_searched_is_said() -> None:
    profile = load_profile("player")
    with pytest.raises(ReedwrightError, match="at least one key"):
        prepare([], profile, wishes(keys=()))
    problem = prepare([made_tune(random.Random(1))], profile, wishes())
    with pytest.raises(ReedwrightError, match="hole 11"):
        solve_tune(problem, 0, [(Change(Reed(11, Breath.BLOW), 1),)])
