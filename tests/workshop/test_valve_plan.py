"""Which slots are covered, and how large the valves are.

The half-valved Richter harp is checked against the facts of the trade as the house's design
states them (blow 1 to 6 and draw 7 to 10 isolated, so draw slots 1 to 6 and blow slots 7 to 10
covered). Sizes are from memory and have no outside source: what is checked of them is that they
obey their rules.
"""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedwright.harp.making import make_harp, parse_harp
from reedwright.harp.model import Breath, Harp, Reed, Tuning
from reedwright.workshop.valving.cutting import (
    CHAMBER_CLEARANCE,
    LEAST_SIDE_MARGIN,
    NEIGHBOUR_GAP,
    PAST_TIP,
    cut_valve,
)
from reedwright.workshop.valving.effects import effect_words, valve_effects
from reedwright.workshop.valving.model import PlateMeasures, Slot, SlotSizes, ValveError
from reedwright.workshop.valving.packing import MARGIN, pack
from reedwright.workshop.valving.planning import plan_valves
from reedwright.workshop.valving.slots import size_range, slots_of


@st.composite
def harps(draw: st.DrawFn) -> Harp:
    """Any reeds, any of them valved, in any key."""
    holes = draw(st.integers(1, 14))
    notes = st.lists(st.integers(55, 96), min_size=holes, max_size=holes)
    tuning = Tuning("any", "any", "", tuple(draw(notes)), tuple(draw(notes)))
    reeds = [Reed(hole, breath) for hole in range(1, holes + 1) for breath in Breath]
    isolated = draw(st.frozensets(st.sampled_from(reeds)))
    return Harp(tuning, "C", draw(st.integers(-17, 18)), isolated=isolated)


sizes = st.builds(
    Slot,
    st.builds(Reed, st.integers(1, 10), st.sampled_from(Breath)),
    st.floats(5, 25),
    st.floats(1, 5),
)
plates = st.builds(
    PlateMeasures,
    hole_pitch=st.floats(5, 12),
    rivet_gap=st.floats(0, 6),
    chamber_width=st.floats(3, 4.9),
)


def test_half_valving_covers_draw_slots_1_to_6_and_blow_slots_7_to_10():
    plan = plan_valves(make_harp("C", valves="half"))
    assert [valve.name for valve in plan.valves] == [
        *(f"blow {hole}" for hole in range(7, 11)),
        *(f"draw {hole}" for hole in range(1, 7)),
    ]
    assert {valve.isolates for valve in plan.valves} == {
        *(Reed(hole, Breath.BLOW) for hole in range(1, 7)),
        *(Reed(hole, Breath.DRAW) for hole in range(7, 11)),
    }


def test_a_valve_lies_on_the_side_of_the_plate_without_reeds():
    # Blow reeds sit inside the harp and draw reeds outside (common practice).
    for valve in plan_valves(make_harp("G", valves="full")).valves:
        assert valve.inside == (valve.slot.breath is Breath.DRAW)


def test_a_list_of_reeds_is_planned_as_asked():
    plan = plan_valves(make_harp("A", valves="blow 2, draw 9"))
    assert [valve.name for valve in plan.valves] == ["blow 9", "draw 2"]


def test_nothing_to_valve_is_said():
    plan = plan_valves(make_harp("C"))
    assert plan.valves == () and plan.changes == ()
    assert "No reed" in plan.notes[0]


def test_a_harp_with_a_slide_is_declined():
    with pytest.raises(ValveError, match="slide"):
        plan_valves(make_harp("C", "slide-solo-12"))


@given(harps())
def test_the_valves_isolate_exactly_the_reeds_asked_for(harp: Harp):
    plan = plan_valves(harp)
    assert sorted(valve.isolates for valve in plan.valves) == sorted(harp.isolated)
    for valve in plan.valves:
        assert valve.slot == Reed(valve.isolates.hole, valve.isolates.breath.other)


@given(harps(), plates, st.lists(sizes, max_size=6, unique_by=lambda slot: slot.reed))
def test_no_two_valves_of_a_plate_touch(harp: Harp, room: PlateMeasures, measured: list[Slot]):
    measured = [slot for slot in measured if slot.reed.hole <= harp.tuning.holes]
    plan = plan_valves(harp, SlotSizes(tuple(measured), room))
    for plate in Breath:
        spans = sorted(
            (
                room.hole_pitch * v.slot.hole - v.width / 2,
                room.hole_pitch * v.slot.hole + v.width / 2,
            )
            for v in plan.of_plate(plate)
        )
        for (_, end), (start, _) in pairwise(spans):
            assert start - end >= NEIGHBOUR_GAP - 1e-6


@given(sizes, plates)
def test_a_valve_that_fits_covers_its_slot_on_every_side(slot: Slot, room: PlateMeasures):
    valve = cut_valve(slot, room)
    assert valve.length - valve.pad >= slot.length + PAST_TIP - 0.051
    if valve.fits:
        assert (valve.width - slot.width) / 2 >= LEAST_SIDE_MARGIN - 1e-6
    else:
        assert valve.notes and "Does not fit" in valve.notes[0]
    if valve.inside:
        assert valve.width <= room.chamber_width - 2 * CHAMBER_CLEARANCE + 1e-6


@given(sizes, st.floats(0, 8), st.floats(0, 2), plates)
def test_valves_grow_with_their_slots(slot: Slot, longer: float, wider: float, room: PlateMeasures):
    small = cut_valve(slot, room)
    large = cut_valve(slot._replace(length=slot.length + longer, width=slot.width + wider), room)
    assert large.length >= small.length
    assert large.width >= small.width


def test_a_valve_is_larger_than_its_slot_by_the_margins_of_the_rules():
    # By hand: 14.0 + 0.8 past the tip + 2.0 of pad; 2.2 + 0.6 on each side.
    valve = cut_valve(Slot(Reed(4, Breath.BLOW), 14.0, 2.2), PlateMeasures())
    assert (valve.length, valve.width, valve.pad, valve.fits) == (16.8, 3.4, 2.0, True)


def test_holes_too_near_each_other_leave_no_room_for_a_valve():
    slot = Slot(Reed(4, Breath.BLOW), 14.0, 3.6)
    assert cut_valve(slot, PlateMeasures(hole_pitch=7.5)).fits
    tight = cut_valve(slot, PlateMeasures(hole_pitch=4.9))
    assert not tight.fits
    assert "next hole" in tight.notes[0]
    plan = plan_valves(
        make_harp("C", valves="draw 4"), SlotSizes((slot,), PlateMeasures(hole_pitch=4.9))
    )
    assert any("blow 4" in note and "none is to be cut" in note for note in plan.notes)
    assert pack(plan) == ()


def test_a_valve_inside_keeps_clear_of_the_comb():
    inside = cut_valve(Slot(Reed(4, Breath.DRAW), 14.0, 2.6), PlateMeasures(chamber_width=4.0))
    outside = cut_valve(Slot(Reed(4, Breath.BLOW), 14.0, 2.6), PlateMeasures(chamber_width=4.0))
    assert (inside.width, outside.width) == (3.4, 3.8)
    assert "comb" in inside.notes[0] and not outside.notes


def test_a_rivet_close_to_the_slot_shortens_the_pad_and_is_told_of():
    slot = Slot(Reed(4, Breath.BLOW), 14.0, 2.2)
    assert cut_valve(slot, PlateMeasures(rivet_gap=1.8)).pad == 1.5
    close = cut_valve(slot, PlateMeasures(rivet_gap=0.6))
    assert close.pad == 1.0 and "rivet" in close.notes[0]


def test_top_holes_are_told_to_be_hard_to_valve():
    plan = plan_valves(make_harp("C", valves="half"))
    assert any("blow 9 10" in note for note in plan.notes)
    assert [bool(valve.notes) for valve in plan.valves] == [False, False, True, True] + [False] * 6


def test_lower_harps_have_longer_slots_by_default():
    found = [
        slots_of(parse_harp(key))[0].length
        for key in ("low F", "G", "B", "C", "Eb", "E", "F#", "high G")
    ]
    assert found == sorted(found, reverse=True)
    assert len(set(found)) == 5
    names = {size_range(parse_harp(key)).name for key in ("C", "Db", "D", "Eb")}
    assert names == {"harps in C to E flat"}


@given(st.data(), st.integers(2, 12))
def test_worked_out_slots_lie_between_those_measured(data: st.DataObject, holes: int):
    harp = Harp(Tuning("any", "any", "", (60,) * holes, (62,) * holes), "C", 0)
    known = sorted(data.draw(st.sets(st.integers(1, holes), min_size=1)))
    lengths = sorted((data.draw(st.floats(6, 20)) for _ in known), reverse=True)
    widths = sorted((data.draw(st.floats(1, 3)) for _ in known), reverse=True)
    measured = tuple(
        Slot(Reed(hole, Breath.BLOW), length, width, True)
        for hole, length, width in zip(known, lengths, widths, strict=True)
    )
    slots = slots_of(harp, SlotSizes(measured))
    assert len(slots) == 2 * holes
    for plate in Breath:
        own = [slot for slot in slots if slot.reed.breath is plate]
        for one, after in pairwise(own):
            assert one.length >= after.length - 1e-9
            assert one.width >= after.width - 1e-9
        assert [own[hole - 1].length for hole in known] == lengths
        for slot in own:
            # The draw plate, of which nothing was measured, follows the blow plate.
            is_known = slot.reed.hole in known and plate is Breath.BLOW
            assert (slot.measured, slot.worked_out) == (is_known, not is_known)


def test_what_is_not_measured_is_marked():
    harp = make_harp("C", valves="half")
    assert "from memory" in plan_valves(harp).notes[0]
    two = SlotSizes(
        (
            Slot(Reed(1, Breath.DRAW), 16.0, 2.3, True),
            Slot(Reed(6, Breath.DRAW), 12.0, 2.1, True),
        )
    )
    plan = plan_valves(harp, two)
    assert "worked out" in plan.notes[0] and "draw 2 3 4 5" in plan.notes[0]
    third = next(slot for slot in plan.slots if slot.reed == Reed(3, Breath.DRAW))
    # By hand: two fifths of the way from 16.0 to 12.0, and from 2.3 to 2.1.
    assert third.length == pytest.approx(14.4) and third.width == pytest.approx(2.22)


def test_a_slot_that_is_longer_than_the_one_before_is_asked_about():
    odd = SlotSizes(
        (Slot(Reed(1, Breath.BLOW), 12, 2, True), Slot(Reed(2, Breath.BLOW), 13, 2, True))
    )
    plan = plan_valves(make_harp("C", valves="half"), odd)
    assert any("measure again" in note for note in plan.notes)
    steady = replace(odd, slots=(odd.slots[0], odd.slots[1]._replace(length=11.0)))
    assert not any("measure again" in n for n in plan_valves(make_harp("C"), steady).notes)


def test_sizes_of_a_hole_that_the_harp_does_not_have_are_refused():
    with pytest.raises(ValveError, match="hole 11"):
        plan_valves(make_harp("C"), SlotSizes((Slot(Reed(11, Breath.BLOW), 12, 2, True),)))


@given(harps(), st.floats(20, 200))
def test_valves_on_a_strip_lie_within_it_and_apart(harp: Harp, width: float):
    plan = plan_valves(harp)
    strips = pack(plan, width)
    placed = [each for strip in strips for each in strip.placed]
    assert sorted(each.valve.name for each in placed) == sorted(
        valve.name for valve in plan.valves if valve.fits
    )
    for strip in strips:
        assert {each.valve.plate for each in strip.placed} == {strip.plate}
        end = 0.0
        for valve, x, y in strip.placed:
            assert x >= end + 1.0
            end = x + valve.width
            assert y >= MARGIN - 1e-6
            # All pads end on one line, so that one cut frees them.
            assert y + valve.length == pytest.approx(strip.height - MARGIN)
        assert end <= width - MARGIN + 1e-6


def test_material_narrower_than_a_valve_is_refused():
    plan = plan_valves(make_harp("C", valves="half"))
    with pytest.raises(ValveError, match=r"at least 7\.4 mm"):
        pack(plan, 5.0)
    for none in (0.0, -50.0, float("nan"), float("inf")):
        with pytest.raises(ValveError, match="no width"):
            pack(plan, none)


def test_a_hole_with_two_equal_reeds_is_left_by_half_valving_and_told_of():
    tuning = Tuning("any", "any", "", (60, 64, 67), (62, 64, 65))
    plan = plan_valves(make_harp("C", tuning, valves="half"))
    assert [valve.name for valve in plan.valves] == ["blow 3", "draw 1"]
    assert any("hole 2" in note for note in plan.notes)


def test_long_valves_are_told_to_need_room_under_the_cover():
    def told(harp: str) -> bool:
        return any("cover leaves them room" in n for n in plan_valves(parse_harp(harp)).notes)

    assert told("low D::full")
    assert not told("low D::half")  # its long valves lie inside
    assert not told("C::full")


def test_a_valve_that_cannot_be_made_changes_nothing() -> None:
    narrow = Slot(Reed(1, Breath.DRAW), 15.9, 3.2)
    plan = plan_valves(
        make_harp("C", valves="blow 1, draw 7"),
        SlotSizes((narrow,), PlateMeasures(chamber_width=4.0)),
    )
    fits = {valve.slot.hole: valve.fits for valve in plan.valves}
    assert fits == {1: False, 7: True}
    assert plan.harp.isolated == {Reed(7, Breath.DRAW)}
    assert [change.hole for change in plan.changes] == [7]
    effects = {effect.valve.fits: effect for effect in valve_effects(plan)}
    unmade, made = effects[False], effects[True]
    assert not (unmade.gained or unmade.lost or unmade.vibrato or unmade.purer)
    assert made.gained and "Cannot be made" in effect_words(unmade, plan.harp)
