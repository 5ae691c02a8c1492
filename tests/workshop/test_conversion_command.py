"""`reedwright bench plan` where a user says what stock is at hand, or says too much."""

from __future__ import annotations

import json

import pytest

from reedwright.cli.main import main


def test_what_is_at_hand_is_told_with_and_without_swaps(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["bench", "plan", "C:richter-raised-3-blow", "--have", "C"]) == 0
    said = capsys.readouterr()
    assert "To take of those at hand\n  1 x C harp" in said.out
    assert "To buy" not in said.out
    assert said.err == ""


def test_the_best_of_those_at_hand_is_told_where_another_harp_is_better(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["bench", "plan", "C:richter-raised-3-blow", "--have", "Db"]) == 0
    said = capsys.readouterr()
    assert "from a C harp the effort is 3.5" in said.err
    assert "of those at hand a Db harp comes nearest" in said.err
    assert "To buy\n  1 x C harp" in said.out


def test_one_harp_says_in_json_what_to_buy(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bench", "plan", "C:richter-raised-3-blow", "--json"]) == 0
    plan = json.loads(capsys.readouterr().out)
    (bought,) = plan["shopping"]
    assert (bought["harp"]["key"], bought["number"], bought["as_donor"]) == ("C", 1, 0)
    assert plan["from_hand"] == []


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (["--stock-a4", "0"], "A4 of 0 Hz; give 415 to 460"),
        (["--ranked", "--from-harp", "blue"], "leave one out"),
        (["--ranked", "--have", "C", "--stock-a4", "470"], "give 415 to 460"),
    ],
)
def test_what_cannot_be_is_refused(
    given: list[str], words: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["bench", "plan", "C", *given]) != 0
    assert words in capsys.readouterr().err


def test_a_harp_at_435_may_be_started_from(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["bench", "plan", "C", "--stock", "C", "--stock-a4", "435"]) == 0
    assert "+19.8" in capsys.readouterr().out
