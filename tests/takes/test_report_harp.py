"""Which harp a report says was played."""

import pytest
from imagined_hearing import heard_of
from known_following import followed
from played_badly import perform
from report_takes import bends, demo, taken, with_glides

from reedwright.harp.making import make_harp
from reedwright.harp.naming import KEYS
from reedwright.player.loading import load_profile
from reedwright.takes.report.harps import moved_harp, played_harp, played_harp_unknown
from reedwright.takes.report.model import HarpSureness


@pytest.mark.parametrize("semitones", range(-7, 8))
def test_harp_moved_is_the_harp_that_is_made_in_that_key(semitones):
    moved = moved_harp(make_harp("C"), semitones)
    made = {
        make_harp(key, register=register).transpose: make_harp(key, register=register)
        for key in KEYS
        for register in ("low", "ordinary", "high")
    }
    assert moved == made[semitones]


@pytest.mark.parametrize("semitones", [-5, -2, 1, 6])
def test_key_is_that_of_the_tab_moved_to_where_it_was_played(semitones):
    arrangement = demo()
    performance = perform(arrangement, semitones=semitones)
    heard = heard_of(performance.notes)
    found = played_harp(followed(arrangement, performance, heard, semitones))
    true = moved_harp(arrangement.harp, semitones)
    assert found.harp is not None
    assert (found.harp.key, found.harp.register) == (true.key, true.register)
    assert found.key_sureness is HarpSureness.SURE


def test_glide_into_the_low_sixth_tells_the_standard_tuning_from_a_raised_hole_3():
    """E4 on a G harp is 3 draw bent a whole tone, but plain 3 blow where that is raised."""
    raised = demo(harp="G", tuning="richter-raised-3-blow")
    performance = perform(raised)
    plain = taken(raised, performance)
    assert played_harp(plain).harp.tuning.name == "richter-raised-3-blow"
    gliding = with_glides(heard_of(performance.notes), {64})
    told = played_harp(followed(raised, performance, gliding))
    assert told.harp.tuning.name == "richter"
    assert "speaks against" in told.words


def test_tuning_is_left_open_where_the_tune_never_touches_the_difference():
    found = played_harp(taken(demo(1, "D"), perform(demo(1, "D"))))
    assert found.harp.key == "D"
    assert found.tuning_sureness is not HarpSureness.SURE
    assert "do not tell" in found.words


def test_take_that_fits_the_tab_is_said_to_and_the_tuning_is_not_made_out_of_nothing():
    found = played_harp(taken(demo(), perform(demo())))
    assert found.harp.tuning.name == "richter"
    assert "as the tab has it" in found.words and "raised 3 blow would do as well" in found.words


def test_without_a_tab_the_harp_is_where_the_tune_lies_easiest():
    arrangement = demo()
    performance = perform(arrangement, semitones=3)
    found = played_harp_unknown(
        arrangement.plain, 3, heard_of(performance.notes), load_profile("all-techniques")
    )
    assert found.harp.key == "Bb"  # G is the easiest for the reel in G, and it sounds in B flat
    assert len({each.harp for each in found.candidates}) == len(found.candidates) > 1
    assert sum(each.probability for each in found.candidates) <= 1 + 1e-9


def test_bends_are_where_the_tab_has_them():
    assert len(bends(demo(), perform(demo()))) == 4
