"""Bends, vibrato and breathiness of every note, over all tunings and valve plans.

Sources: the trade's rules as in docs/expression.md (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.harp.expression import (
    BendKind,
    Expression,
    expression_of,
    same_breath_neighbours,
)
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Reed, Sounding, Technique
from reedwright.harp.tunings import all_tunings

TUNINGS = sorted(all_tunings())


def reed(harp: Harp, hole: int, breath: str) -> Sounding:
    (found,) = (
        s
        for s in harp.soundings
        if (s.hole, s.breath.value, s.technique, s.slide) == (hole, breath, "natural", False)
    )
    return found


def of(harp: Harp, hole: int, breath: str) -> Expression:
    return expression_of(harp, reed(harp, hole, breath))


@st.composite
def harps(draw: st.DrawFn) -> Harp:
    """Any tuning with any reeds isolated."""
    tuning = all_tunings()[draw(st.sampled_from(TUNINGS))]
    reeds = [Reed(h, b) for h in range(1, tuning.holes + 1) for b in Breath]
    plan = draw(
        st.one_of(
            st.sampled_from(["none", "half", "full"]),
            st.sets(st.sampled_from(reeds)),
        )
    )
    key = draw(st.sampled_from(["C", "G", "F#"]))
    return make_harp(key, tuning, valves=plan)


@given(harps())
@settings(max_examples=150, deadline=None)
def test_depth_is_what_the_harps_own_list_of_bends_leaves(harp: Harp) -> None:
    """Against the soundings of harp/model.py, which have their own tests and sources."""
    for sounding in harp.soundings:
        found = expression_of(harp, sounding)
        if sounding.technique.overbend:
            assert found == Expression(BendKind.NONE, 0, True, False)
            continue
        bends = [
            s.bend
            for s in harp.soundings
            if (s.hole, s.breath, s.slide) == (sounding.hole, sounding.breath, sounding.slide)
            and s.bend
        ]
        assert found.depth == max(bends, default=0) - sounding.bend
        kinds = {
            s.technique
            for s in harp.soundings
            if (s.hole, s.breath, s.slide) == (sounding.hole, sounding.breath, sounding.slide)
            and s.bend
        }
        if kinds == {Technique.VALVED_BEND}:
            assert found.bend is BendKind.VALVED
        elif kinds == {Technique.BEND}:
            assert found.bend is BendKind.TWO_REED
        else:
            assert found.bend is BendKind.NONE


@given(harps())
@settings(max_examples=150, deadline=None)
def test_vibrato_where_pitch_gives_way_and_breathy_only_where_nothing_does(harp: Harp) -> None:
    for sounding in harp.soundings:
        found = expression_of(harp, sounding)
        bent = sounding.technique is not Technique.NATURAL
        assert found.vibrato == (found.depth > 0 or bent)
        assert not (found.breathy and found.vibrato)
        isolated = Reed(sounding.hole, sounding.breath) in harp.isolated
        if isolated:
            assert found.vibrato and not found.breathy
        if found.breathy:
            other = harp.reed_midi(sounding.hole, sounding.breath.other, sounding.slide)
            assert sounding.technique is Technique.NATURAL
            assert sounding.midi < other


@given(harps())
@settings(max_examples=100, deadline=None)
def test_half_valving_takes_no_bend_away_and_leaves_no_note_breathy(harp: Harp) -> None:
    bare = make_harp(harp.key, harp.tuning, valves="none")
    half = make_harp(harp.key, harp.tuning, valves="half")
    for sounding in bare.soundings:
        before = expression_of(bare, sounding)
        if sounding in half.soundings:
            after = expression_of(half, sounding)
            # With a slide in, a reed may be higher where it is lower with the slide out.
            if not harp.tuning.slide:
                assert after.depth >= before.depth
                assert after.vibrato or not before.vibrato
                assert not after.breathy
        elif not harp.tuning.slide:
            assert sounding.technique.overbend


def test_half_valved_richter_gains_bends_on_blow_1_to_6_and_draw_7_to_10() -> None:
    """Common practice (issue 3); draw bends stay, overblows of these holes go."""
    bare, half = make_harp("C", valves="none"), make_harp("C", valves="half")
    gained = {
        (s.hole, s.breath.value)
        for s in bare.soundings
        if s.technique is Technique.NATURAL
        and not expression_of(bare, s).depth
        and expression_of(half, s).depth
    }
    assert gained == {("blow", h)[::-1] for h in range(1, 7)} | {(h, "draw") for h in range(7, 11)}
    for hole, depth in ((1, 1), (2, 2), (3, 3), (4, 1), (6, 1)):
        assert of(bare, hole, "draw") == of(half, hole, "draw")
        assert of(half, hole, "draw") == Expression(BendKind.TWO_REED, depth, True, False)
    for hole, depth in ((8, 1), (9, 1), (10, 2)):
        assert of(half, hole, "blow") == Expression(BendKind.TWO_REED, depth, True, False)
    assert not [s for s in half.soundings if s.technique.overbend]
    assert [s for s in bare.soundings if s.technique.overbend]


def test_unvalved_low_blow_notes_are_breathy_and_do_not_bend() -> None:
    """DESIGN's facts: without valves the low blow notes are breathy and do not bend."""
    bare = make_harp("C")
    for hole in range(1, 7):
        assert of(bare, hole, "blow") == Expression(BendKind.NONE, 0, False, True)
    for hole in range(7, 11):
        assert of(bare, hole, "draw") == Expression(BendKind.NONE, 0, False, True)
    # A semitone between the reeds leaves no bend to the higher one.
    assert of(bare, 5, "draw") == Expression(BendKind.NONE, 0, False, False)
    assert of(bare, 7, "blow") == Expression(BendKind.NONE, 0, False, False)


def test_two_reeds_of_one_pitch_leak_neither_and_do_not_bend() -> None:
    richter = all_tunings()["richter"]
    twin = replace(richter, draw=(richter.blow[0], *richter.draw[1:]))
    harp = make_harp("C", twin)
    for breath in ("blow", "draw"):
        assert of(harp, 1, breath) == Expression(BendKind.NONE, 0, False, False)


def test_a_bend_that_is_taken_already_bends_on_by_what_is_left() -> None:
    harp = make_harp("C")
    bends = {s.bend: s for s in harp.soundings if (s.hole, s.breath.value) == (3, "draw")}
    assert [expression_of(harp, bends[k]).depth for k in range(4)] == [3, 2, 1, 0]
    assert all(expression_of(harp, bends[k]).vibrato for k in range(4))


@pytest.mark.parametrize("tuning", TUNINGS)
def test_neighbours_are_the_plain_notes_beside_in_the_same_breath(tuning: str) -> None:
    harp = make_harp("D", tuning)
    for sounding in harp.soundings:
        found = same_breath_neighbours(harp, sounding)
        assert [n.hole for n in found] == [
            h for h in (sounding.hole - 1, sounding.hole + 1) if 1 <= h <= harp.tuning.holes
        ]
        assert all(n in harp.soundings and n.breath is sounding.breath for n in found)


def test_from_draw_6_a_cut_reaches_draw_7_and_from_blow_6_blow_7() -> None:
    """Common practice (issue 3)."""
    harp = make_harp("C")
    for breath in ("draw", "blow"):
        *_, above = same_breath_neighbours(harp, reed(harp, 6, breath))
        assert (above.hole, above.breath.value, above.technique) == (7, breath, "natural")
