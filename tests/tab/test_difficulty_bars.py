"""Bars by how hard they are: they add up to the tune, and say in words what is hard."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from played_effort import random_tune

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.grade import ReasonKind, difficulty
from reedwright.tab.difficulty.hardest import bar_works, hardest_bars
from reedwright.tab.difficulty.report import difficulty_line, difficulty_report, difficulty_text
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes

TUNES = Path(__file__).parents[2] / "examples" / "tunes.abc"
PLAYER = load_profile("player")


def arranged(body: str, tempo: int = 60, head: str = "M:4/4\nL:1/4") -> Arrangement:
    (tune,) = read_abc(f"X:1\nT:Made\n{head}\nQ:1/4={tempo}\nK:C\n{body}\n")
    assert isinstance(tune, Tune), tune
    return arrange(tune, make_harp("C"), PLAYER)


@pytest.mark.no_cover
def test_bars_add_up_to_the_tune() -> None:
    rng = random.Random(5)
    tunes = [tune for tune in read_tunes(TUNES) if isinstance(tune, Tune)]
    tunes += [random_tune(rng, 7, repeats=k % 2 == 0) for k in range(40)]
    for tune in tunes:
        for harp in (make_harp("G"), make_harp("D", "solo")):
            arrangement = arrange(tune, harp, PLAYER)
            works = bar_works(arrangement)
            assert sum(each.effort for each in works) == pytest.approx(arrangement.effort, abs=0)
            assert sum(each.seconds for each in works) == pytest.approx(
                difficulty(arrangement).seconds
            )
            for each in works:
                assert sum(each.reasons.values()) == pytest.approx(each.effort)


def test_a_bar_has_its_own_notes_and_the_moves_that_begin_in_it() -> None:
    """Blow 4 and draw 4 in turn, at leisure: a change of breath costs 1 (docs/effort.md)."""
    works = bar_works(arranged("c d c d|c4|d4|]"))
    assert [each.effort for each in works] == [4.0, 1.0, 0.0]
    assert [each.work for each in works] == [1.0, 0.25, 0.0]
    repeated = bar_works(arranged("|:c d c d:|"))
    assert [(each.effort, each.times, each.seconds) for each in repeated] == [(7.0, 2, 8.0)]


def test_the_hardest_come_first_and_equals_once() -> None:
    found = hardest_bars(arranged("c4|c d c d|c4|c g' c g'|c d c d|c4|]", 240))
    assert [each.number for each in found][:2] == [4, 2]
    assert found[1].alike == (5,)
    assert 5 not in [each.number for each in found]
    works = [each.work for each in found]
    assert works == sorted(works, reverse=True)


def test_a_short_upbeat_counts_as_half_a_bar_for_the_order() -> None:
    works = bar_works(arranged("d|c4|c4|c3|]"))
    assert works[0].number == 0
    assert works[0].effort == 1.0
    assert works[0].seconds == 1.0
    assert works[0].work == 0.5  # over two of the four beats


@pytest.mark.parametrize(
    ("body", "tempo", "words"),
    [
        ("d c'4|]", 60, "4 draw to 7 blow, a leap while the breath turns, at 1.00 s"),
        ("c c'4|]", 120, "4 blow to 7 blow, a leap in one breath, at 0.50 s"),
        ("c d2|]", 120, "4 blow to 4 draw, the breath turns in the hole, at 0.50 s"),
        ("c f2|]", 120, "4 blow to 5 draw, the next hole while the breath turns, at 0.50 s"),
        ("c c4|]", 120, "4 blow to 4 blow, the same note again, at 0.50 s"),
        ("c e4|]", 120, "4 blow to 5 blow, the next hole in one breath, at 0.50 s"),
        ("_d4|]", 120, "4 draw bent a semitone for 2.00 s"),
        ("B _B4|]", 120, "3 draw bent a semitone for 2.00 s; "
         "3 draw to 3 draw bent a semitone, bent down by a semitone, at 0.50 s"),
        ("_A B|]", 120, "3 draw bent three semitones for 0.50 s; "
         "3 draw bent three semitones to 3 draw, the bend let up, at 0.50 s"),
        ("c d c d c d c d|]", 240, "the breath turns on 7 of 8 moves, at 0.25 s"),
    ],
)  # fmt: skip
def test_spots_are_in_the_players_words(body: str, tempo: int, words: str) -> None:
    arrangement = arranged(body, tempo, "M:none\nL:1/4")
    (work,) = bar_works(arrangement)
    assert work.why.startswith(words.split("; ")[0])


def test_the_main_reason_of_a_bar_is_what_weighs_most_in_it() -> None:
    bends, leaps = hardest_bars(arranged("_d _d _d _d|c g' c g'|]", 60))
    assert bends.main is ReasonKind.BENDS
    assert leaps.main is ReasonKind.LEAPS


def test_report_text_and_line_hold_the_same_grade() -> None:
    for tune in read_tunes(TUNES):
        assert isinstance(tune, Tune)
        arrangement = arrange(tune, make_harp("G"), PLAYER)
        found, hardest = difficulty(arrangement), hardest_bars(arrangement)
        report = difficulty_report(arrangement, found, hardest)
        text = difficulty_text(arrangement, found, hardest, 60)
        assert f"Grade {report['grade']:g} of 10, {report['grade_word']}" in text
        assert max(map(len, text.splitlines()[2:])) <= 60
        line = difficulty_line(arrangement, found)
        assert line.startswith(f"{report['grade']:>4g}")
        assert len(line.splitlines()) == 1
        assert [bar["bar"] for bar in report["hardest_bars"]] == [b.number for b in hardest]
