"""What a change to a hole's reeds brings and takes, by the published rule of the two-reed bend."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed, Technique
from reedwright.harp.naming import KEYS, parse_note
from reedwright.workshop.changes import BendChange, bend_changes, hole_changes

THREE_BLOW, THREE_DRAW = Reed(3, Breath.BLOW), Reed(3, Breath.DRAW)


def test_raised_third_blow_costs_two_bends_and_keeps_one() -> None:
    # C harp: 3 draw B4 bent to Bb, A, Ab over G (H. Levy's table of depths); over A only to Bb.
    (change,) = hole_changes(make_harp("C"), make_harp("C", "richter-raised-3-blow"))
    assert change.hole == 3
    assert [(way.breath, way.midi) for way in change.gained] == [
        (Breath.BLOW, parse_note("A4")),
    ]
    lost = {(way.technique, way.midi) for way in change.lost}
    assert lost == {
        (Technique.NATURAL, parse_note("G4")),
        (Technique.BEND, parse_note("A4")),
        (Technique.BEND, parse_note("Ab4")),
    }


def test_a_bend_that_stays_but_gets_shallower_is_told() -> None:
    changes = bend_changes(make_harp("C"), make_harp("C", "richter-raised-3-blow"))
    assert changes == (BendChange(THREE_DRAW, 3, 1, False, False),)


def test_lowered_seventh_draw_gives_a_blow_bend() -> None:
    # Blow 7 C6 over draw 7 B5: no bend. Over B flat: down a semitone to B.
    changes = bend_changes(make_harp("C"), make_harp("C", "richter-lowered-7-draw"))
    assert changes == (BendChange(Reed(7, Breath.BLOW), 0, 1, False, False),)


def test_half_valving_trades_overblows_for_bends() -> None:
    changes = bend_changes(make_harp("C"), make_harp("C", valves="half"))
    lower = [Reed(hole, Breath.BLOW if hole <= 6 else Breath.DRAW) for hole in range(1, 11)]
    assert changes == tuple(BendChange(reed, 0, 1, True, False) for reed in lower)


@given(st.sampled_from(KEYS), st.sampled_from(KEYS))
def test_depths_do_not_depend_on_the_key(one: str, other: str) -> None:
    assert bend_changes(make_harp(one), make_harp(other)) == ()
    assert bend_changes(make_harp(one), make_harp(other, "richter-raised-3-blow")) == bend_changes(
        make_harp("C"), make_harp("C", "richter-raised-3-blow")
    )


@given(st.sampled_from(["richter", "solo", "natural-minor", "harmonic-minor"]), st.booleans())
def test_what_one_gains_the_other_way_loses(tuning: str, valved: bool) -> None:
    before, after = make_harp("C"), make_harp("A", tuning, valves="half" if valved else "none")
    there = {change.hole: change for change in hole_changes(before, after)}
    back = {change.hole: change for change in hole_changes(after, before)}
    assert there.keys() == back.keys()
    for hole, change in there.items():
        kinds = [{way[:4] + way[5:] for way in ways} for ways in change[1:]]
        assert kinds == [{way[:4] + way[5:] for way in ways} for ways in reversed(back[hole][1:])]
        assert not kinds[0] & kinds[1]
    assert hole_changes(after, after) == ()
