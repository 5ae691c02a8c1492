"""What a way not taken would cost is what the arranger finds when it is told to take it."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest
from played_effort import random_tune

from reedwright.harp.making import KEYS, make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.fingerings.why import NoSuchBar, why_bar, why_report, why_text
from reedwright.tab.wishes import Wishes
from reedwright.tune.abc import read_abc

BODY = "GAGE|GGAG|FGEG|G4|]"


def tune_of(body: str = BODY):
    (tune,) = read_abc(f"X:1\nT:Two ways\nM:4/4\nL:1/4\nK:C\n{body}\n")
    return tune


def first_note(tune, bar: int):
    return next(note for each in tune.bars if each.number == bar for note in each.notes)


def test_each_way_costs_what_pinning_it_costs() -> None:
    # Another road to the same number: the arranger with the note fixed, without the clamped
    # problems that `why` solves together.
    rng = random.Random(31)
    ways = lacked = 0
    for _ in range(50):
        tune = random_tune(rng, 4, repeats=True, low=58, high=72)
        harp = make_harp(rng.choice(KEYS), rng.choice(["richter", "solo"]), "low")
        player = load_profile(rng.choice(["player", "all-techniques"]))
        arrangement = arrange(tune, harp, player)
        bar = rng.choice([each.number for each in tune.bars if each.notes])
        why = why_bar(arrangement, bar)
        for note in why.notes:
            assert arrangement.soundings.get(note.id) == note.taken
            for each in note.others:
                pinned = arrange(tune, harp, player, wishes=Wishes(fixed={note.id: each.way}))
                assert each.more == pinned.effort - arrangement.effort
                assert sum(each.parts.values()) == each.more
                assert each.more >= 0 or each.lacks
                ways += 1
                lacked += bool(each.lacks)
    assert ways > 25 and lacked > 10


def test_every_way_of_the_harp_is_told_of_with_the_technique_that_is_lacking() -> None:
    tune, harp = tune_of("^F4|]"), make_harp("C")
    (note,) = why_bar(arrange(tune, harp, load_profile("first-year")), 1).notes
    assert note.taken is None
    assert {each.way for each in note.others} == set(harp.ways[66])
    assert {each.lacks for each in note.others} == {"draw bend"}
    assert "no hole sounds it" in why_text(
        why_bar(arrange(tune, harp, load_profile("first-year")), 1)
    )


def test_a_pin_is_said_to_have_decided_and_the_other_way_is_then_cheaper() -> None:
    tune, harp, player = tune_of(), make_harp("C"), load_profile("player")
    note = first_note(tune, 2)
    free = why_bar(arrange(tune, harp, player), 2).notes[0]
    other = free.others[0].way
    wishes = Wishes(fixed={note.id: other})
    pinned = why_bar(arrange(tune, harp, player, wishes=wishes), 2, wishes).notes[0]
    assert pinned.pinned and not free.pinned and pinned.taken == other
    assert pinned.others[0].way == free.taken
    assert pinned.others[0].more == -free.others[0].more
    assert "the teacher's choice" in why_text(
        why_bar(arrange(tune, harp, player, wishes=wishes), 2, wishes)
    )


def test_a_way_that_is_ruled_out_is_told_with_what_it_would_save() -> None:
    tune, harp, player = tune_of(), make_harp("C"), load_profile("player")
    note = first_note(tune, 2)
    taken = why_bar(arrange(tune, harp, player), 2).notes[0].taken
    assert taken is not None
    wishes = Wishes(forbidden={note.id: frozenset({taken})})
    why = why_bar(arrange(tune, harp, player, wishes=wishes), 2, wishes)
    (told,) = (each for each in why.notes[0].others if each.way == taken)
    assert told.forbidden and told.more < 0
    assert "ruled out by the teacher" in why_text(why)


def test_the_words_name_what_there_is_more_of_and_the_figures_add_up() -> None:
    tune, harp, player = tune_of(), make_harp("C"), load_profile("player")
    why = why_bar(arrange(tune, harp, player), 2)
    text = why_text(why)
    assert "beat 1, G4: 3 blow" in text and "2 draw" in text and "more breath change" in text
    report = why_report(why)
    for note in report["notes"]:
        for each in note["instead"]:
            assert sum(each["parts"].values()) == each["more"]


def test_a_bar_that_is_not_there_is_told_with_the_last_one() -> None:
    arrangement = arrange(tune_of(), make_harp("C"), load_profile("player"))
    with pytest.raises(NoSuchBar, match="no bar 9; the last is 4"):
        why_bar(arrangement, 9)


def test_a_tied_note_is_explained_as_one_with_the_note_before() -> None:
    arrangement = arrange(tune_of("GAGG-|GEFG|]"), make_harp("C"), load_profile("player"))
    first = why_bar(arrangement, 2).notes[0]
    assert first.tied and first.taken == why_bar(arrangement, 1).notes[-1].taken


def test_a_note_that_is_never_played_is_said_to_be_so() -> None:
    (tune,) = read_abc("X:1\nT:T\nP:A\nM:4/4\nL:1/4\nK:C\nP:A\nGAGE|\nP:B\nGEGE|]\n")
    why = why_bar(arrange(tune, make_harp("C"), load_profile("player")), 2)
    assert all(note.taken and not note.played and not note.others for note in why.notes)
    assert "the repeats never reach it" in why_text(why)


def test_figures_count_from_the_tab_as_it_is_also_where_breath_is_balanced() -> None:
    player = load_profile("player")
    player = replace(player, weights=replace(player.weights, breath_balance=50.0))
    tune, harp = tune_of("|:GGGG|GGGG|G2A2|G4:|"), make_harp("C")
    arrangement = arrange(tune, harp, player)
    why = why_bar(arrangement, 2)
    assert why.balanced and "Balance of breath" in why_text(why)
    for note in why.notes:
        assert note.taken == arrangement.soundings[note.id]
