"""What a plan says beside its figures: what settles, how hard it is, what is assumed, cautions."""

from __future__ import annotations

from dataclasses import replace
from math import log2

import pytest

from reedwright.errors import ReedwrightError
from reedwright.harp.cautions import CAUTIONS, SHORT_CAUTION, SOLDER_CAUTION
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Reed
from reedwright.harp.naming import KEYS
from reedwright.workshop.conversion.changewords import change_lines
from reedwright.workshop.conversion.costs import Region, hardness, region_of
from reedwright.workshop.conversion.model import Donor, Purchase, Work
from reedwright.workshop.conversion.order import Stage
from reedwright.workshop.conversion.planning import plan_conversion
from reedwright.workshop.conversion.report import conversion_report, plan_report
from reedwright.workshop.conversion.steps import bench_steps
from reedwright.workshop.conversion.text import conversion_text, worklist_text
from reedwright.workshop.conversion.worklist import plan_worklist
from reedwright.workshop.targets.model import TargetWishes

THREE = Reed(3, Breath.DRAW)
B4 = 493.883  # Hz, 3 draw of a C harp, as printed in textbooks


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(("flat", "settles"), [(9.9, False), (10.1, True), (45.0, True)])
def test_a_reed_that_goes_far_settles_though_it_keeps_its_note(flat: float, settles: bool) -> None:
    stock = make_harp("C")
    plan = plan_conversion(stock, stock=stock, measured={THREE: B4 * 2 ** (-flat / 1200)})
    (work,) = plan.works
    assert work.work is Work.TOUCH
    stages = [step.stage for step in bench_steps(plan)]
    if settles:
        assert stages == [Stage.COARSE, Stage.SETTLE, Stage.FINE, Stage.CHORDS]
        assert work.coarse_hz == pytest.approx(B4 * 2 ** (-5 / 1200), abs=0.001)
        assert f"{work.coarse_hz:.2f}" in work.how
    else:
        assert stages == [Stage.FINE, Stage.CHORDS]
        assert work.coarse_hz is None
    said = one_line(conversion_text(plan))
    assert ("12 hours or overnight" in said) == settles


def test_a_harp_brought_to_another_pitch_settles_as_a_whole() -> None:
    plan = plan_conversion(make_harp("C"), TargetWishes(a4=446), make_harp("C"))
    coarse, settle, fine, _ = bench_steps(plan)
    assert settle.stage is Stage.SETTLE
    assert len(coarse.works) == len(fine.works) == 20
    assert {round(work.cents, 2) for work in plan.works} == {round(1200 * log2(446 / 440), 2)}
    # From then on as any: one plate, then the other.
    assert [work.reed.breath for work in coarse.works] == [Breath.BLOW] * 10 + [Breath.DRAW] * 10
    assert fine.works == plan.finishing


def test_plates_are_off_before_reeds_are_moved_also_where_none_is_swapped() -> None:
    plan = plan_conversion(make_harp("C", "richter-raised-3-blow"))
    first = bench_steps(plan)[0]
    assert first.stage is Stage.COARSE
    assert "covers and plates off" in first.text


def test_regions_change_between_notes_whatever_they_are_tuned_to() -> None:
    # Equal temperament at ISO 16's 440 Hz as printed in textbooks: B3 246.94, C4 261.63,
    # C6 1046.50, C#6 1108.73; a quarter of a semitone either way is 1.5 per cent.
    for hz, region in (
        (246.94, Region.LOW),
        (261.63, Region.MIDDLE),
        (1046.50, Region.MIDDLE),
        (1108.73, Region.HIGH),
    ):
        assert {region_of(hz * times) for times in (0.986, 1.0, 1.014)} == {region}


def test_each_reed_says_how_hard_it_is() -> None:
    stock = make_harp("C")
    (raised,) = plan_conversion(make_harp("C", "richter-raised-3-blow"), stock=stock).works
    assert raised.effort == pytest.approx(3.5)  # 1 + (1 + 1.5), docs/conversions.md
    assert raised.hardness == "some care"
    minor = plan_conversion(make_harp("G", "natural-minor"))
    # E4, E5, B4, B5 down a semitone, and the short E6.
    assert sorted(work.hardness for work in minor.works) == ["easy"] * 4 + ["some care"]
    solo = plan_worklist([plan_conversion(make_harp("C", "solo"), stock=stock)]).conversions[0]
    assert sum(work.effort for work in solo.works) == pytest.approx(solo.effort)
    assert {work.hardness for work in solo.works if work.work is Work.SWAP} == {"hard"}
    assert [hardness(cost) for cost in (0.2, 2.3, 2.4, 4.0, 4.2)] == [
        "easy",
        "easy",
        "some care",
        "some care",
        "hard",
    ]
    assert "+200.0   3.5 some care" in conversion_text(
        plan_conversion(make_harp("C", "richter-raised-3-blow"))
    )


def test_every_note_of_a_plan_is_printed() -> None:
    plan = plan_conversion(make_harp("C", "solo"), stock=make_harp("C"))
    assert len(plan.notes) == 3
    said = one_line(conversion_text(plan))
    together = one_line(worklist_text(plan_worklist([plan, plan_conversion(make_harp("D"))])))
    for note in plan.notes:
        assert note in said
        assert note in together


def test_where_a_plan_starts_from_is_said_to_be_assumed_unless_measured() -> None:
    stock = make_harp("C")
    plan = plan_conversion(stock, stock=stock, stock_wishes=TargetWishes("just", a4=442))
    assert any("assumed, not measured: just temperament at A 442" in note for note in plan.notes)
    measured = plan_conversion(stock, stock=stock, measured={THREE: 490.0})
    assert not any("assumed" in note for note in measured.notes)


def test_a_plan_with_very_many_swaps_names_a_harp_to_start_from_instead() -> None:
    plan = plan_conversion(make_harp("C", "natural-minor"), stocks=[make_harp("C")])
    assert sum(work.work is Work.SWAP for work in plan.works) > 6
    # Natural minor is named by its second position: the F harp has C there (Wikipedia).
    (note,) = (each for each in plan.notes if "set of plates" in each)
    assert "Start from an F harp instead" in note
    best = plan_conversion(make_harp("C", "natural-minor"))
    assert best.stock == make_harp("F")
    assert f"effort {best.effort:.1f}, not {plan.effort:.1f}" in note
    # Where no other harp is far better none is named.
    alone = plan_conversion(make_harp("C", "solo"), stock=make_harp("C"))
    assert any("Ask for one, or start from another" in note for note in alone.notes)


def test_valves_alone_are_told_as_what_they_change() -> None:
    said = one_line(conversion_text(plan_conversion(make_harp("C", valves="half"))))
    assert "No reed needs work." in said
    assert "hole 1: gains blow bent to B3; loses the overblow Eb4" in said
    assert "assumed" in said


def test_a_bend_that_comes_new_is_not_said_to_be_deeper() -> None:
    stock, wanted = make_harp("C"), make_harp("C", "richter-lowered-7-draw")
    ((_, line),) = change_lines(stock, wanted)
    assert "gains" in line and "blow bent to B5" in line
    assert "at most" not in line
    others = dict(change_lines(make_harp("D"), wanted))
    assert others[7] == "blow bends now, a semitone at most"


def test_solder_and_iron_are_spoken_of_where_a_weight_is_advised() -> None:
    low = plan_conversion(make_harp("D", "natural-minor", "low"), stock=make_harp("G"))
    raised = plan_conversion(make_harp("C", "richter-raised-3-blow"))
    weighted = plan_conversion(make_harp("G", "natural-minor"), stock=make_harp("G"))
    for plan in (low, raised, weighted):
        for work in plan.works:
            assert work.by_weight == ("Add a weight" in work.how)
        weights = any(work.by_weight for work in plan.works)
        for said in (
            one_line(conversion_text(plan)),
            one_line(worklist_text(plan_worklist([raised, plan]))),
            str(conversion_report(plan)["caution"]),
        ):
            assert SHORT_CAUTION in said
            assert (SOLDER_CAUTION in said) == weights
    assert not any(work.by_weight for work in raised.works)
    assert any(work.by_weight for plan in (low, weighted) for work in plan.works)


def test_cautions_speak_of_every_danger_at_the_bench() -> None:
    said = " ".join(CAUTIONS)
    for topic in (
        "dust mask",
        "eye protection",
        "sharp edges",
        "lead",
        "No food or drink",
        "Wash your hands",
        "children",
        "fumes",
        "lead-free solder",
        "iron burns",
        "alcohol catches fire",
        "clean it before you measure or try it",
        "uncleaned",
        "Wipe plates",
        "rules of your place",
        "technician",
        "waste",
    ):
        assert topic in said, topic
    for topic in ("mask", "eye protection", "food", "wash", "wipe", "Local rules", "technician"):
        assert topic in SHORT_CAUTION, topic
    assert "fumes" in SOLDER_CAUTION and "iron" in SOLDER_CAUTION


def test_a_harp_of_old_pitch_may_be_started_from_but_not_aimed_at() -> None:
    stock = make_harp("C")
    plan = plan_conversion(stock, stock=stock, stock_wishes=TargetWishes(a4=435))
    assert {round(work.cents, 2) for work in plan.works} == {round(1200 * log2(440 / 435), 2)}
    # At 415 Hz a D flat harp sounds a C harp of today, 1200 log2(440/415) - 100 = 1.27 cents flat,
    # and a C harp a B harp.
    old = TargetWishes(a4=415)
    near = plan_conversion(stock, stock_wishes=old)
    assert near.stock == make_harp("Db")
    assert {(each.work, round(each.cents, 2)) for each in near.works} == {(Work.TOUCH, 1.27)}
    far = plan_conversion(stock, stock=stock, stock_wishes=old)
    assert {(each.work, each.to_midi - each.from_midi) for each in far.works} == {(Work.RAISE, 1)}
    # From 428 Hz 1200 log2(440/428) = 47.9 cents are a touch; two octaves up a stretch of 12 cents
    # an octave adds 24, which makes it a reed to raise, though of the same name.
    stretched = plan_conversion(
        stock, TargetWishes(stretch=12), stock, stock_wishes=TargetWishes(a4=428)
    )
    works = {work.reed: work for work in stretched.works}
    assert works[Reed(4, Breath.BLOW)].work is Work.TOUCH
    high = works[Reed(10, Breath.BLOW)]
    assert (high.work, high.from_midi, round(high.cents, 1)) == (Work.RAISE, high.to_midi, 71.9)
    for a4 in (0.0, 414.0, 461.0, float("nan")):
        with pytest.raises(ReedwrightError, match="give 415 to 460"):
            plan_conversion(stock, stock=stock, stock_wishes=TargetWishes(a4=a4))
    with pytest.raises(ReedwrightError, match="438"):
        plan_conversion(stock, TargetWishes(a4=435))


def test_a_new_reed_is_held_to_the_slot_and_one_too_long_is_told() -> None:
    plan = plan_conversion(make_harp("C", "solo"), stock=make_harp("C"))
    swaps = {work.reed: work for work in plan.works if work.work is Work.SWAP}
    assert all("Hold it to the slot first" in work.how for work in swaps.values())
    # 9 draw of an A harp: 16.6 - 8 x 6.8/9 = 10.56 mm; the slot of 10 blow of a C harp is 9.2 mm.
    ten = swaps[Reed(10, Breath.BLOW)]
    assert "mm too long: measure both before you buy" in ten.how
    report = conversion_report(plan)["works"]
    assert isinstance(report, list)
    (told,) = (each for each in report if (each["hole"], each["breath"]) == (10, "blow"))
    assert all(donor["longer_mm"] > 0.5 for donor in told["donors"])
    exact = plan_conversion(
        make_harp("C", "richter-raised-3-blow"), stock=make_harp("C"), swap_over=1
    )
    assert "mm too" not in exact.works[0].how  # 3 blow of a D harp has the same slot


@pytest.mark.parametrize("key", KEYS)
def test_first_donors_are_those_nearest_in_length_among_equals(key: str) -> None:
    """Of reeds that sound the very note, from the same plate, the best fitting one is first."""
    plan = plan_conversion(make_harp(key, "solo"), stock=make_harp(key))
    report = conversion_report(plan)["works"]
    assert isinstance(report, list)
    for work in report:
        alike = [
            donor["longer_mm"] if donor["longer_mm"] > 0 else -donor["longer_mm"] / 2
            for donor in work["donors"]
            if donor["semitones"] == 0
            and donor["breath"] == work["breath"]
            and donor["harp"]["register"] == "ordinary"
        ]
        assert alike == sorted(alike)


def test_harps_at_hand_and_harps_to_buy_each_say_what_they_serve() -> None:
    c, d = make_harp("C"), make_harp("D")
    swapped = plan_conversion(make_harp("C", "richter-raised-3-blow"), stock=c, swap_over=1)
    (work,) = swapped.works
    swapped = replace(swapped, works=(replace(work, donors=(Donor(d, work.reed, 0),)),))
    listed = plan_worklist([swapped, swapped], at_hand=[c, c, d])
    # Both take 3 blow of a D harp: one is there, the other is to be bought.
    assert listed.from_hand == (Purchase(c, 2, (1, 2)), Purchase(d, 1, (1,), 1))
    assert listed.shopping == (Purchase(d, 1, (2,), 1),)


def test_plans_of_one_harp_and_of_several_tell_what_to_buy_alike() -> None:
    one = plan_conversion(make_harp("C", "solo"), stock=make_harp("C"))
    other = plan_conversion(make_harp("C", "richter-raised-3-blow"))
    alone, both = plan_report(plan_worklist([one])), plan_report(plan_worklist([one, other]))
    for report in (alone, both):
        assert report["shopping"] and report["from_hand"] == []
        assert report["fewest_proven"] is True
    assert "works" in alone
    steps = both["steps"]
    assert isinstance(steps, list)
    assert [step["stage"] for step in steps] == [stage.value for stage in Stage]
    assert [each["conversion"] for each in steps[2]["harps"]] == [0, 1]
    finished = {each["conversion"]: each["works"] for each in steps[3]["harps"]}
    assert finished[1] == [0] and len(finished[0]) == len(one.works)
    for change in alone["changes"]:  # type: ignore[attr-defined]
        for way in (*change["gained"], *change["lost"]):
            assert {"midi", "slide", "note"} <= way.keys()
            assert 40 < way["midi"] < 110
