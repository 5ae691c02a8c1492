"""`reedwright grade` and `reedwright valves` as a user meets them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reedwright.cli.main import main

TUNES = str(Path(__file__).parents[2] / "examples" / "tunes.abc")

ONE_BAD = (
    "X:1\nT:Good\nK:C\nCDEF GABc|\n\nX:2\nT:Bad\nK:Zmaj\nCDEF|\n\nX:3\nT:Last\nK:G\nGABc d4|\n"
)


def test_grade_tells_grade_reasons_bars_and_plan(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["grade", TUNES, "--tune", "1", "--harp", "G", "--player", "first-year"]) == 0
    printed = capsys.readouterr().out
    assert 'for the player "first year"' in printed
    for part in ("Grade ", "breath changes a second", "Hardest bars", "How to practise it"):
        assert part in printed


def test_grade_as_json_has_the_documented_shape(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["grade", TUNES, "--tune", "1", "--harp", "G", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert 1 <= found["grade"] <= 10 and found["grade"] * 2 == int(found["grade"] * 2)
    assert sum(reason["share"] for reason in found["reasons"]) == pytest.approx(1, abs=0.01)
    assert {"reason", "figure", "unit", "words", "work", "share", "bars"} == set(
        found["reasons"][0]
    )
    assert found["hardest_bars"][0]["spots"]
    plan = found["practice_plan"]
    assert plan["sentences"] and plan["whole_tune"][-1]["speed_percent"] == 100


def test_a_slower_tempo_on_the_command_line_lowers_the_grade(
    capsys: pytest.CaptureFixture[str],
) -> None:
    grades = []
    for tempo in ("240", "160", "80", "40"):
        assert main(["grade", TUNES, "--harp", "G", "--tempo", tempo, "--json"]) == 0
        grades.append(json.loads(capsys.readouterr().out)["grade"])
    assert grades == sorted(grades, reverse=True)
    assert grades[0] > grades[-1]


def test_grade_all_has_one_line_a_tune_and_goes_on_after_a_bad_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "book.abc"
    book.write_text(ONE_BAD)
    assert main(["grade", str(book), "--tune", "all", "--harp", "C"]) == 1
    printed = capsys.readouterr()
    lines = printed.out.splitlines()
    assert len(lines) == 2
    assert "Good  (C harp)" in lines[0] and "Last  (C harp)" in lines[1]
    assert "'Zmaj' is no key" in printed.err
    assert main(["grade", str(book), "--tune", "all", "--harp", "C", "--json"]) == 1
    assert [each["title"] for each in json.loads(capsys.readouterr().out)] == ["Good", "Last"]


def test_what_is_wrong_is_told_in_a_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["grade", TUNES, "--harp", "H"]) == 1
    assert main(["grade", TUNES, "--tune", "99"]) == 1
    assert main(["valves", TUNES, "--player", "nobody"]) == 1
    error = capsys.readouterr().err
    assert "Traceback" not in error and len(error.splitlines()) >= 3


def test_valves_sets_two_harps_side_by_side(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["valves", TUNES, "--tune", "5", "--harp", "G"]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    assert "on the G harp and the G harp, half-valved" in printed
    assert "takes vibrato" in printed and "It is a slow tune" in printed
    assert main(["valves", TUNES, "--tune", "all", "--harp", "G", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert len(found) == 7
    assert {"without_valves", "with_valves"} == set(found[0]["harps"])


def test_harp_marks_expression_when_asked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drawing = tmp_path / "c.svg"
    assert main(["harp", "C", "--expression"]) == 0
    assert "breathy" in capsys.readouterr().out
    assert main(["harp", "C", "--expression", "--draw", str(drawing)]) == 0
    assert "takes vibrato" in drawing.read_text()
    capsys.readouterr()
    assert main(["harp", "C", "--expression", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["expression"]
    (blow_one,) = (
        each
        for each in found
        if (each["hole"], each["breath"], each["technique"]) == (1, "blow", "natural")
    )
    assert blow_one["breathy"] is True and blow_one["vibrato"] is False
