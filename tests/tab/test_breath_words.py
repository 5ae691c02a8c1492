"""What the student is told about breath, what the report holds, and the plot in characters."""

import json
from dataclasses import asdict, replace

import pytest
from handmade_arrangements import by_hand

from reedwright.player.lungs import Lungs, lungs_meanings
from reedwright.player.profile import Profile
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.model import BreathReason
from reedwright.tab.breath.plan import plan_breaths, practice_breaths
from reedwright.tab.breath.textplot import breath_text
from reedwright.tab.breath.words import breath_remarks, breath_report, speed_words


def tune(text: str, tempo: float = 60.0) -> Arrangement:
    return replace(by_hand(text), player=Profile("t", "T"), quarters_per_minute=tempo)


def texts(arrangement: Arrangement, **more: object) -> str:
    return " ".join(str(remark) for remark in breath_remarks(arrangement, **more))  # type: ignore[arg-type]


EVEN = tune("4d:4 4b:4 | 4d:4 4b:4 | 4d:4 4b:4 | 4d:4 4b:4")
FULL = tune("4d:8 | 5d:8 | 4d:8 | 5d:8 | 4d:8 | 5d:8")
EMPTY = tune("4b:8 | 5b:8 | 4b:8 | 5b:8 | 4b:8 | 5b:8")


def test_an_even_tune_wants_no_breath() -> None:
    assert "take no extra breath" in texts(EVEN)
    assert breath_report(EVEN)["speeds"][0]["breaths"] == []


def test_full_lungs_are_let_out_and_empty_ones_filled() -> None:
    assert "Let air out through the nose after " in texts(FULL)
    assert "Snatch a breath" not in texts(FULL)
    assert "Snatch a breath after " in texts(EMPTY)
    assert "5 blow in bar 2, where the phrase ends" in texts(EMPTY)
    assert "through the nose" not in texts(EMPTY)


def test_notes_to_leave_out_are_named_by_bar() -> None:
    tight = Lungs(comfortable_litres=0.3, most_litres=0.5, breath_rate=1.0, breath_seconds=0.02)
    bar = "4d:1 3d:1 " * 4
    quavers = replace(
        tune(" | ".join([bar] * 4), tempo=120.0), player=Profile("t", "T", lungs=tight)
    )
    marks = plan_breaths(quavers).marks
    bars = [mark.bar for mark in marks if mark.reason is BreathReason.DROPPED_NOTE]
    assert set(bars) == {2, 3}
    said = texts(quavers, speeds=(1.0,))
    assert "Leave out 3 draw in bars 2 and 3, and breathe there." in said


def test_how_the_tune_ends_is_told_where_it_matters() -> None:
    assert "The tune ends with full lungs" in texts(tune("4d:6"))
    assert "The tune ends with little air left" in texts(tune("4b:6"))
    assert "The tune ends" not in texts(EVEN)


def test_slow_practice_tells_what_it_adds() -> None:
    quick = tune("4d:8 | 5d:8 | 4d:8 | 5d:8", tempo=140.0)
    practice = practice_breaths(quick)
    assert not practice.plans[0].marks and practice.more(1)
    said = texts(quick)
    assert "In slow practice (at 55 per cent of the speed) every note takes more air" in said
    for mark in practice.more(1):
        assert f"in bar {mark.bar}" in said


def test_the_same_breaths_in_slow_practice_are_said_to_be_the_same() -> None:
    marked = tune("4d:8 | 5d:8 | 4d:8 z:8 | 5d:8 | 4b:8", tempo=80.0)
    assert plan_breaths(marked).marks
    said = texts(marked, speeds=(1.0, 0.99))
    assert "the same breaths will do" in said


def test_trouble_without_help_is_told() -> None:
    notes = {note.id for bar in FULL.tune.bars for note in bar.notes}
    said = texts(FULL, never=notes)
    assert "From bar 3 on you will be too full" in said
    assert "no breath is long enough" not in said  # of slow practice that goes without saying


def test_trouble_in_slow_practice_alone_is_told() -> None:
    quick = tune("4d:8 | 5d:8 | 4d:8 | 5d:8", tempo=140.0)
    notes = {note.id for bar in quick.tune.bars for note in bar.notes}
    said = texts(quick, never=notes)
    assert "no breath is long enough at 55 per cent of the speed" in said
    assert "you will be too full" not in said


def test_the_remarks_name_their_bars() -> None:
    plan = plan_breaths(FULL)
    first = breath_remarks(FULL)[0]
    assert first.bars == tuple(sorted({mark.bar for mark in plan.marks}))


def test_the_report_is_data_and_agrees_with_the_plan() -> None:
    report = json.loads(json.dumps(breath_report(FULL)))
    practice = practice_breaths(FULL)
    assert report["lungs"] == asdict(Lungs())
    assert [each["speed"] for each in report["speeds"]] == [1.0, 0.55]
    for told, plan in zip(report["speeds"], practice.plans, strict=True):
        assert [breath["note"] for breath in told["breaths"]] == [m.note_id for m in plan.marks]
        assert told["seconds"] == pytest.approx(plan.account.seconds, abs=1e-3)
        assert told["highest"] == pytest.approx(plan.account.highest, abs=1e-3)
        assert told["level"][-1][1] == pytest.approx(plan.account.quarters)
        assert told["without_breaths"]["trouble"][0]["too"] == "full"
        for breath in told["breaths"]:
            assert all(taken["litres"] < 0 for taken in breath["taken"])
    assert report["speeds"][1]["more"] == [m.note_id for m in practice.more(1)]


def test_every_figure_of_the_lungs_has_a_meaning() -> None:
    assert set(lungs_meanings()) == set(asdict(Lungs()))


@pytest.mark.parametrize("width", [50, 80, 120])
def test_the_plot_keeps_to_its_width(width: int) -> None:
    for arrangement in (EVEN, FULL, EMPTY):
        assert max(map(len, breath_text(arrangement, width).splitlines())) <= width


def test_the_plot_has_an_ascii_form_of_the_same_shape() -> None:
    fancy, plain = breath_text(FULL), breath_text(FULL, ascii_only=True)
    assert plain.isascii() and "?" not in plain
    assert [len(line) for line in fancy.splitlines()] == [len(line) for line in plain.splitlines()]


def test_the_plot_rises_in_draw_and_falls_in_blow() -> None:
    plot = breath_text(tune("4d:8 | 4b:8"), speeds=(1.0,)).splitlines()
    rows = [line for line in plot if "•" in line and "how full" not in line]
    columns = {line.index("•", 8): k for k, line in enumerate(rows)}
    highest = rows[0]
    assert 35 <= highest.index("•") <= 48, "the top lies in the middle of the tune"
    assert columns, "there is a line"


def test_the_plot_has_a_comma_for_each_breath_taken() -> None:
    practice = practice_breaths(FULL)
    lines = breath_text(FULL).splitlines()
    rows = [line for line in lines if line.strip() and set(line.strip()) <= {",", " "}]
    assert [row.count(",") for row in rows] == [len(plan.account.taken) for plan in practice.plans]


def test_speeds_in_words() -> None:
    assert speed_words(1.0) == "at full speed"
    assert speed_words(0.55) == "at 55 per cent of the speed"
