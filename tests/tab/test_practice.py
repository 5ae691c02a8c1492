"""The practice plan: which bars, in what steps, told in whole sentences."""

from __future__ import annotations

from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from reedwright.harp.making import make_harp
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.hardest import bar_works
from reedwright.tab.difficulty.moments import account_of
from reedwright.tab.difficulty.practice import (
    EASY_GRADE,
    FASTEST_START,
    FULL,
    LARGEST_STEP,
    LONGEST_PASSAGE,
    MOST_PASSAGES,
    SLOWEST,
    PracticePlan,
    plan_report,
    plan_text,
    practice_plan,
)
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.reading import read_tunes
from reedwright.tune.unfold import unfold

TUNES = Path(__file__).parents[2] / "examples" / "tunes.abc"
PLAYER = load_profile("player")


def arranged(body: str, tempo: int = 120) -> Arrangement:
    (tune,) = read_abc(f"X:1\nT:Made\nM:4/4\nL:1/4\nQ:1/4={tempo}\nK:C\n{body}\n")
    assert isinstance(tune, Tune), tune
    return arrange(tune, make_harp("C"), PLAYER)


@cache
def demo_arrangements() -> list[Arrangement]:
    tunes = [tune for tune in read_tunes(TUNES) if isinstance(tune, Tune)]
    harps = (make_harp("G"), make_harp("D"), make_harp("C", "solo"))
    players = [load_profile(name) for name in ("first-year", "player", "all-techniques")]
    return [arrange(t, h, p) for t in tunes for h, p in zip(harps, players, strict=True)]


def demo_plans() -> list[tuple[Arrangement, PracticePlan]]:
    return [(each, _plan(k)) for k, each in enumerate(demo_arrangements())]


@cache
def _plan(number: int) -> PracticePlan:
    return practice_plan(demo_arrangements()[number])


HARD = "c/g/d/a/ c/g/d/a/"
EASY = "c2 e2"


def test_hard_bars_that_follow_each_other_are_one_passage() -> None:
    other = "a/d/g/c/ a/d/g/c/"
    plan = practice_plan(arranged(f"{EASY}|{EASY}|{HARD}|{other}|{EASY}|e2 c2|{EASY}|{EASY}|]"))
    assert [(p.first, p.last) for p in plan.passages] == [(3, 4)]
    (passage,) = plan.passages
    assert passage.name == "bars 3 and 4"
    assert (passage.first_index, passage.last_index) == (2, 3)
    assert passage.lead_in == "the last note of bar 2"


def test_a_missing_note_is_nothing_to_practise() -> None:
    lacking = practice_plan(arranged(f"{EASY}|{EASY}|{EASY}|c2 _D,2|]"))
    assert not lacking.passages
    assert lacking.whole == practice_plan(arranged(f"{EASY}|{EASY}|{EASY}|c2 z2|]")).whole
    beside_hard = practice_plan(arranged(f"{EASY}|{HARD}|{EASY}|c2 _D,2|]"))
    assert [each.name for each in beside_hard.passages] == ["bar 2"]
    assert "missing" not in " ".join(beside_hard.sentences)


def test_a_bar_that_comes_again_is_practised_once() -> None:
    plan = practice_plan(arranged(f"{HARD}|{EASY}|{EASY}|{HARD}|{EASY}|{EASY}|{HARD}|{EASY}|]"))
    (passage,) = plan.passages
    assert passage.first == passage.last
    assert {passage.first, *passage.alike} == {1, 4, 7}
    assert "repeat: " in plan.sentences[0]


def test_an_even_or_easy_tune_is_practised_whole() -> None:
    plan = practice_plan(arranged("c d e f|g f e d|c4|]", 60))
    assert plan.passages == ()
    assert plan.sentences == (
        "No bar stands out, so play the whole tune, once each at 85 and 100 per cent of the "
        "full tempo (60 quarter notes a minute).",
    )


def test_steps_rise_evenly_from_an_easy_speed_to_the_full_tempo() -> None:
    seen = 0
    for _, plan in demo_plans():
        for steps in (plan.whole, *(passage.steps for passage in plan.passages)):
            percents = [step.percent for step in steps]
            assert percents == sorted(set(percents))
            assert percents[-1] == FULL
            assert SLOWEST <= percents[0] <= FASTEST_START
            assert all(percent % 5 == 0 for percent in percents)
            assert all(b - a <= LARGEST_STEP + 5 for a, b in pairwise(percents))
            grades = [step.grade for step in steps]
            assert grades == sorted(grades)  # the same bars are never harder slower
            if percents[0] > SLOWEST:
                assert grades[0] <= EASY_GRADE
            full = steps[-1].round_seconds
            for step in steps:
                assert step.round_seconds == pytest.approx(full * 100 / step.percent)
            seen += 1
    assert seen > 30


def test_the_start_is_the_fastest_speed_that_is_easy() -> None:
    """By brute force: five per cent faster the passage is no longer easy."""
    from reedwright.tab.difficulty.moments import account_of, retimed
    from reedwright.tab.difficulty.scale import grade_of

    tried = 0
    for arrangement, plan in demo_plans():
        for passage in plan.passages:
            start = passage.steps[0].percent
            if not SLOWEST < start < FASTEST_START:
                continue
            faster = retimed(arrangement, (start + 5) / 100)
            account = account_of(faster)
            bars = {
                bar.index
                for bar in arrangement.plain.bars[passage.first_index : passage.last_index + 1]
            }
            rows, seen = [], set()
            for k, moment in enumerate(account.moments):
                if moment.bar.index in bars and moment.note.id not in seen:
                    seen.add(moment.note.id)
                    rows.append(k)
            seconds = passage.steps[-1].round_seconds / ((start + 5) / 100)
            assert grade_of(sum(account.parts(rows).values()) / seconds) > EASY_GRADE
            tried += 1
    assert tried >= 3


def test_passages_are_few_short_hard_and_follow_on_in_playing() -> None:
    for arrangement, plan in demo_plans():
        assert len(plan.passages) <= MOST_PASSAGES
        works = {
            each.number: each
            for each in bar_works(arrangement, account_of(arrangement).without("missing_note"))
        }
        played = [each.bar.index for each in unfold(arrangement.plain).bars]
        taken: set[int] = set()
        for passage in plan.passages:
            indices = list(range(passage.first_index, passage.last_index + 1))
            assert 1 <= passage.last - passage.first + 1 <= LONGEST_PASSAGE
            assert any(played[k : k + len(indices)] == indices for k in range(len(played))), (
                "the bars of a passage must follow each other as played"
            )
            assert taken.isdisjoint(indices)
            taken.update(indices)
            mean = sum(each.effort for each in works.values()) / sum(
                each.seconds for each in works.values()
            )
            for number in range(passage.first, passage.last + 1):
                assert works[number].work > mean


def test_the_plan_is_told_in_whole_sentences() -> None:
    for _, plan in demo_plans():
        assert len(plan.sentences) == len(plan.passages) + 1
        for sentence in plan.sentences:
            assert sentence[0].isupper() and sentence.endswith(".")
            assert "  " not in sentence
        text = plan_text(plan, 70)
        assert max(map(len, text.splitlines())) <= 70
        report = plan_report(plan)
        assert [p["bars"] for p in report["passages"]] == [[p.first, p.last] for p in plan.passages]
        assert report["sentences"] == list(plan.sentences)
