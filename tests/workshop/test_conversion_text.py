"""What a plan says on a terminal and in JSON."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from reedwright.harp.cautions import SHORT_CAUTION
from reedwright.harp.making import make_harp
from reedwright.harp.tunings import find_tuning
from reedwright.workshop.conversion.planning import plan_conversion, rank_stocks
from reedwright.workshop.conversion.report import (
    conversion_report,
    stocks_report,
    worklist_report,
)
from reedwright.workshop.conversion.text import (
    conversion_text,
    stocks_text,
    worklist_text,
)
from reedwright.workshop.conversion.worklist import plan_worklist
from reedwright.workshop.targets.model import TargetWishes


def one_line(text: str) -> str:
    return " ".join(text.split())


PLANS = [
    ("C", "richter-raised-3-blow", "equal", "half"),
    ("A", "natural-minor", "just", "none"),
    ("F#", "solo", "just-seven", "none"),
    ("C", "slide-solo-12", "compromise", "full"),
]


@pytest.mark.parametrize(("key", "tuning", "temperament", "valves"), PLANS)
def test_lines_fit_eighty_columns_and_every_reed_and_the_caution_are_there(
    key: str, tuning: str, temperament: str, valves: str
) -> None:
    wanted = make_harp(key, tuning, valves=valves)
    stocks = (make_harp(key, "slide-solo-12"),) if wanted.tuning.slide else None
    plan = plan_conversion(
        wanted, TargetWishes(temperament, 442.0, 5.0, 1.0), stocks=stocks, name="For the class"
    )
    for text in (conversion_text(plan), worklist_text(plan_worklist([plan, plan]))):
        assert max(map(len, text.splitlines())) <= 80
        for work in plan.works:
            place = f"{work.reed.hole:2} {work.reed.breath.value}  {work.work.value}"
            assert place in text
            assert f"{work.cents:+.1f}" in text
        assert one_line(SHORT_CAUTION) in one_line(text)
        assert "For the class: " in text
    listed = plan_worklist([plan, plan])
    together = one_line(worklist_text(listed))
    for work in (work for each in listed.conversions for work in each.works):
        assert one_line(work.warning) in together
        for told in (work.how, work.check) if work.finish else (work.check,):
            told = told.removeprefix(f"Play {work.reed.hole} {work.reed.breath.value}: ")
            assert one_line(told) in together
        finish = work.finish.removeprefix(f"Play {work.reed.hole} {work.reed.breath.value}: ")
        assert together.count(one_line(finish)) >= 2  # on both harps
    said = one_line(conversion_text(plan))
    for work in plan.works:
        finish = one_line(work.finish or work.check)
        assert finish.removeprefix(f"Play {work.reed.hole} {work.reed.breath.value}: ") in said
        assert one_line(work.warning) in said


def test_stages_come_in_order_and_the_raised_reed_is_told() -> None:
    text = conversion_text(plan_conversion(make_harp("C", "richter-raised-3-blow")))
    heads = [line for line in text.splitlines() if line[:2] in ("1.", "2.", "3.", "4.", "5.")]
    assert heads == [
        "1. Move the reeds, a little short",
        "2. Let it settle",
        "3. Finish, hole by hole",
        "4. Octaves and chords",
    ]
    assert " 3 blow  raise      G4 > A4        392.00    440.00   +200.0" in text
    assert "draw bends a semitone at most, not three semitones" in one_line(text)


def test_octaves_are_tried_last_each_with_its_beats() -> None:
    # Stretch of 2 cents an octave from C5 (523.251 Hz): the octave above it is 1046.502 x
    # 2^(2/1200) = 1047.712, so blow 4 and 7 beat 1.21 times a second, blow 1 and 4 half as often.
    plan = plan_conversion(make_harp("C"), TargetWishes(stretch=2.0), make_harp("C"))
    text = one_line(conversion_text(plan))
    assert "blow 1 and 4: 0.6;" in text
    assert "4 and 7: 1.2;" in text
    raised = conversion_text(plan_conversion(make_harp("C", "richter-raised-5-draw")))
    # Only octaves with the reed that was changed; none is near 5 draw, F sharp, but 9 draw, F.
    assert "draw 1 and" not in raised
    minor = one_line(conversion_text(plan_conversion(make_harp("G", "natural-minor"))))
    assert "Beats a second: blow 2 and 5: none; 5 and 8: none draw 3 and 7: none" in minor
    solo = one_line(conversion_text(plan_conversion(make_harp("C", "solo"), stock=make_harp("C"))))
    assert "blow 4 and 5: none; 8 and 9: none" in solo  # C twice; then the octaves


def test_a_harp_that_needs_nothing_says_so() -> None:
    text = conversion_text(plan_conversion(make_harp("C")))
    assert "No reed needs work." in text


def test_holes_are_not_listed_as_changed_for_the_key_alone() -> None:
    plan = plan_conversion(make_harp("D", "richter-raised-3-blow"), stock=make_harp("C"))
    assert len(plan.changes) == 10
    lines = conversion_text(plan).splitlines()
    after = lines[lines.index("What the holes gain and lose") + 1 :]
    assert [line for line in after if "hole " in line] == [
        "   hole 3: draw bends a semitone at most, not three semitones"
    ]


def test_runners_up_are_listed_with_their_work() -> None:
    ranked = rank_stocks(make_harp("G", "natural-minor"))
    lines = stocks_text(ranked, most=3).splitlines()
    assert lines[0] == "To make a G harp, natural minor:"
    assert lines[3].split() == ["1.", "C", "harp", "5", "0", "0", "5.0", "11.8"]
    assert lines[-1].strip() == "and 19 other harps with no less to do"
    assert len(lines) == 7
    report = stocks_report(ranked)
    assert len(report) == 22
    assert report[0]["works"] == {"raise": 0, "lower": 5, "swap": 0, "touch up": 0}


def test_long_names_of_stock_harps_are_broken() -> None:
    tuning = replace(
        find_tuning("richter"), name="long", title="a tuning of my own with a long name"
    )
    stocks = [make_harp("Bb", tuning, valves="half"), make_harp("C")]
    lines = stocks_text(rank_stocks(make_harp("Bb"), stocks=stocks)).splitlines()
    assert max(map(len, lines)) <= 80
    assert lines[3].startswith(" 1. Bb harp, a tuning of my own")
    assert lines[4].split()[-5:] == ["0", "0", "0", "0.0", "0.0"]
    assert lines[5].startswith(" 2. C harp  ")


def test_shopping_says_what_each_harp_is_for() -> None:
    plans = [
        plan_conversion(make_harp("C", "richter-raised-3-blow")),
        plan_conversion(make_harp("C", "solo"), stock=make_harp("C")),
    ]
    text = worklist_text(plan_worklist(plans))
    to_buy = text[text.index("To buy") : text.index("Swap reeds")]
    assert "C harp (for 1 and 2" in to_buy
    assert "for reeds)" in to_buy
    assert text.index("Swap reeds") < text.index("Move the reeds") < text.index("Let it settle")
    assert worklist_text(plan_worklist([])) == "Nothing to do."


def test_reports_are_plain_data_that_json_keeps() -> None:
    plans = [
        plan_conversion(make_harp("C", "solo"), TargetWishes("just"), stock=make_harp("C")),
        plan_conversion(make_harp("C", "richter-raised-3-blow")),
    ]
    report = worklist_report(plan_worklist(plans))
    assert json.loads(json.dumps(report)) == report
    conversion = conversion_report(plans[1])
    assert conversion["works"] == [
        {
            "hole": 3,
            "breath": "blow",
            "work": "raise",
            "from": "G4",
            "to": "A4",
            "from_hz": 391.995,
            "to_hz": 440.0,
            "cents": 200.0,
            "coarse_hz": 438.731,
            **{key: getattr(plans[1].works[0], key) for key in ("how", "check", "finish")},
            "warning": plans[1].works[0].warning,
            "by_weight": False,
            "effort": 3.5,
            "hardness": "some care",
            "donors": [],
        }
    ]
    assert conversion["bends"] == [
        {
            "hole": 3,
            "breath": "draw",
            "before": 3,
            "after": 1,
            "overbend_before": False,
            "overbend_after": False,
        }
    ]
