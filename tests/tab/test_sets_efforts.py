"""The table of efforts holds what the ranking of harps finds, and limits choose from it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from sets_tunes import table_of, tunes_of

from reedwright.harp.making import parse_harps
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.difficulty.grade import difficulty
from reedwright.tab.ranking import rank_harps
from reedwright.tab.sets.efforts import EffortsFailed, EffortTable, efforts
from reedwright.tab.sets.fewest import fewest_harps
from reedwright.tab.sets.grading import graded_efforts
from reedwright.tab.sets.wishes import HarpWishes, Limit, SetsError, allowed, within_limit
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.playorder import MAX_PLAYED_BARS

BOOK = Path(__file__).parents[2] / "examples" / "tunes.abc"
HARPS = parse_harps("D, G, A:richter-raised-3-blow, low D")


@pytest.fixture(scope="module")
def tunes() -> list[Tune]:
    found = read_abc(BOOK.read_text(encoding="utf-8"))
    return [tune for tune in found if isinstance(tune, Tune)][:4]


def same_as_the_ranking(table: EffortTable, **asked: object) -> None:
    for row, tune in enumerate(table.tunes):
        ranked = rank_harps(tune, load_profile("player"), **asked)
        assert len(ranked) == len(table.harps) * len(table.moves)
        for each in ranked:
            at = (
                row,
                table.harps.index(each.harp),
                table.moves.index((each.octaves, each.semitones)),
            )
            assert table.per_note[at] == each.effort_per_note
            counts = table.missing[at], table.bends[at], table.overblows[at]
            assert counts == (each.missing, each.bends, each.overblows)


def test_every_figure_is_that_of_the_ranking(tunes: list[Tune]) -> None:
    profile = load_profile("player")
    same_as_the_ranking(efforts(tunes, profile, HARPS), harps=HARPS)
    same_as_the_ranking(efforts(tunes[:1], profile))
    same_as_the_ranking(
        efforts(tunes[:1], profile, HARPS[:2], octaves=(0,), any_key=True),
        harps=HARPS[:2],
        octaves=(0,),
        any_key=True,
    )


def test_the_move_is_the_one_that_the_ranking_puts_first(tunes: list[Tune]) -> None:
    table = efforts(tunes, load_profile("player"), HARPS, any_key=True)
    within = allowed(table, Limit(missing=10_000))
    for row, tune in enumerate(tunes):
        ranked = rank_harps(tune, load_profile("player"), HARPS, any_key=True)
        for place, harp in enumerate(HARPS):
            first = next(each for each in ranked if each.harp == harp)
            move = table.moves[within.move[row, place]]
            assert move == (first.octaves, first.semitones)
            assert within.cost[row, place] == round(1000 * first.effort_per_note)


def test_an_octave_away_is_taken_only_where_it_is_that_much_easier() -> None:
    two = table_of(tunes_of(("reel", "D"), ("reel", "G")), ["C"], [[0.5], [0.5]])
    twice = {
        name: np.concatenate([getattr(two, name)] * 2, axis=2)
        for name in ("missing", "bends", "overblows", "per_note", "preference")
    }
    table = replace(two, moves=((0, 0), (1, 0)), **twice)
    table.per_note[:, 0, 1] = 0.45, 0.40
    table.preference[:, 0, 1] = 0.08  # as `rank_harps` counts an octave
    within = allowed(table, Limit())
    assert within.move[:, 0].tolist() == [0, 1]
    assert within.cost[:, 0].tolist() == [500, 400]


def test_grades_are_those_of_the_arrangement_and_keep_out_what_is_harder(
    tunes: list[Tune],
) -> None:
    profile = load_profile("player")
    table = efforts(tunes[:2], profile, HARPS[:2], octaves=(0, 1))
    with pytest.raises(SetsError, match="needs a table with grades"):
        allowed(table, Limit(grade=5))
    limit = Limit(missing=10_000)
    graded = graded_efforts(table, profile, limit, HarpWishes(never=HARPS[1:2]))
    assert graded.grade is not None
    expected = set()
    for row, place, move in np.argwhere(allowed_moves := within_limit(table, limit)):
        if place == 1:
            continue
        made = arrange(table.tunes[row], HARPS[place], profile, octaves=table.moves[move][0])
        assert graded.grade[row, place, move] == difficulty(made).grade
        expected.add((int(row), int(place), int(move)))
    assert expected and not np.isfinite(graded.grade[:, 1]).any()
    assert np.isfinite(graded.grade).sum() == len(expected) < allowed_moves.sum()
    least = float(np.nanmin(graded.grade))
    within = within_limit(graded, Limit(missing=10_000, grade=least))
    assert {tuple(map(int, at)) for at in np.argwhere(within)} == {
        at for at in expected if graded.grade[at] == least
    }
    assert graded.take([1]).grade is not None


def test_a_tune_too_hard_on_every_harp_is_told_with_its_grade(tunes: list[Tune]) -> None:
    profile = load_profile("player")
    table = graded_efforts(efforts(tunes[:1], profile, HARPS[:1]), profile)
    (out,) = fewest_harps(table, Limit(grade=1)).left_out
    assert table.grade is not None
    assert f"grade {np.nanmin(table.grade):g} at the least" in out.why


@pytest.mark.no_cover
def test_several_processes_find_the_same(tunes: list[Tune]) -> None:
    many = [*tunes, *tunes, *tunes]
    one = efforts(many, load_profile("player"), HARPS[:1], workers=1)
    two = efforts(many, load_profile("player"), HARPS[:1], workers=2)
    assert np.array_equal(one.per_note, two.per_note)
    assert np.array_equal(one.missing, two.missing)


def test_a_tune_that_cannot_be_worked_out_is_told_and_the_others_are_done(
    tunes: list[Tune],
) -> None:
    silent = replace(tunes[0], voices=())
    (labelled,) = read_abc("X:2\nT:Endless\nM:4/4\nL:1/4\nK:C\nP:A\nCDEF|\n")
    odd = [silent, replace(labelled, part_order=("A",) * (MAX_PLAYED_BARS + 1))]
    told: list[tuple[int, int]] = []
    table = efforts(
        [*odd, tunes[0]],
        load_profile("player"),
        HARPS[:1],
        progress=lambda done, of: told.append((done, of)),
    )
    assert "no notes" in table.refused[0]
    assert "more than 50000 bars" in table.refused[1]
    assert 2 not in table.refused and not table.missing[2].min()
    assert 0 in table.unplayable and 2 not in table.unplayable
    assert told[-1] == (len(odd) + 1, len(odd) + 1)
    assert table.take([2, 0]).refused == {1: table.refused[0]}


def test_without_harps_or_octaves_there_is_nothing_to_try(tunes: list[Tune]) -> None:
    with pytest.raises(EffortsFailed, match="no harps"):
        efforts(tunes, load_profile("player"), ())
    with pytest.raises(EffortsFailed, match="No octave"):
        efforts(tunes, load_profile("player"), HARPS, octaves=())


def test_limits_keep_out_what_is_beyond_them() -> None:
    tunes = tunes_of(("reel", "D"), ("jig", "G"))
    table = table_of(tunes, ["C", "D"], [[0.5, 0.8], [1.2, None]], [[1, 0], [0, 0]])
    assert allowed(table, Limit()).can.tolist() == [[True, True], [True, False]]
    assert allowed(table, Limit(no_bends=True)).can.tolist() == [[False, True], [True, False]]
    assert allowed(table, Limit(per_note=0.8)).can.tolist() == [[True, True], [False, False]]
    assert allowed(table, Limit(above_best=0.2)).can.tolist() == [[True, False], [True, False]]
    assert allowed(table, Limit(missing=1)).can.all()
    assert Limit(no_bends=True, per_note=0.8).words == "without bends, at most 0.80 effort a note"


def test_wishes_that_contradict_each_other_are_told() -> None:
    c, d = parse_harps("C, D")
    with pytest.raises(SetsError, match="never to be taken"):
        HarpWishes(must=(c,), never=(c,))
    with pytest.raises(SetsError, match="2 harps are to be taken, and 1 at most"):
        HarpWishes(must=(c, d), most=1)
    with pytest.raises(SetsError, match="0 to 1"):
        HarpWishes(owned_counts=2)
    with pytest.raises(SetsError, match="0 or more"):
        Limit(per_note=-1)


def test_a_harp_with_a_slide_is_taken_only_where_it_is_wished_for_or_owned() -> None:
    (slide,) = parse_harps("C:slide-solo-12")
    assert not HarpWishes().takes(slide)
    assert HarpWishes(slides=True).takes(slide) and HarpWishes(owned=(slide,)).takes(slide)
