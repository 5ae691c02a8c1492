"""Grades of the shelf's tunes: those of the arranger, worked out once and again when they must."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from reedwright.player.loading import load_profile
from reedwright.shelf.facts import grades
from reedwright.shelf.facts.grades import grade_on, grade_tunes, ungraded
from reedwright.shelf.facts.model import Grade
from reedwright.shelf.facts.tunes import add_tune, revise_tune
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.tab.best import arrange_on_best
from reedwright.tab.difficulty.grade import difficulty
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

PLAYER = load_profile("player")
TUNE = "X:1\nT:The Salt Quay\nR:{}\nM:6/8\nL:1/8\nK:{}\nGAB d2B | AGA B2G |]\n"


def tune_in(text: str) -> Tune:
    (tune,) = read_abc(text)
    assert isinstance(tune, Tune)
    return tune


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with open_shelf(tmp_path / "shelf") as opened:
        yield opened


def test_a_grade_is_the_arrangers_on_the_best_harp(shelf: Shelf) -> None:
    for key in ("G", "D", "Bb"):
        tune = tune_in(TUNE.format("jig", key))
        item = add_tune(shelf, tune)
        assert grade_tunes(shelf, PLAYER) == 1
        best = arrange_on_best(tune, PLAYER)
        assert grade_on(shelf, item.id) == Grade(
            best.harp.name, best.octaves, difficulty(best).grade
        )


def test_only_what_is_missing_is_worked_out(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    one, two = (add_tune(shelf, tune_in(TUNE.format("jig", key))).id for key in ("G", "D"))
    assert grade_tunes(shelf, PLAYER, items=[one]) == 1
    assert ungraded(shelf, PLAYER) == [two]
    assert grade_tunes(shelf, PLAYER) == 1
    assert grade_tunes(shelf, PLAYER) == 0
    revise_tune(shelf, one, tune_in(TUNE.format("jig", "A")))
    assert grade_on(shelf, one) is None  # that of another state
    assert ungraded(shelf, PLAYER) == [one]
    assert grade_tunes(shelf, PLAYER) == 1
    harder = replace(PLAYER, weights=replace(PLAYER.weights, leap=9.0))
    assert ungraded(shelf, harder) == [one, two]  # the profile has changed
    assert ungraded(shelf, replace(PLAYER, name="another")) == [one, two]
    monkeypatch.setattr(grades, "GRADE_RULES", 99)
    assert ungraded(shelf, PLAYER) == [one, two]
    shelf.remove(two)
    assert ungraded(shelf, PLAYER) == [one]


def test_what_is_done_stays_where_it_is_stopped(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    for n in range(5):
        add_tune(shelf, tune_in(TUNE.format(f"jig {n}", "G")))
    monkeypatch.setattr(grades, "CHUNK", 2)

    def stop(share: float, _: str) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        grade_tunes(shelf, PLAYER, stop)
    assert len(ungraded(shelf, PLAYER)) == 3
    shares: list[float] = []
    assert grade_tunes(shelf, PLAYER, lambda share, _: shares.append(share)) == 3
    assert shares == [2 / 3, 1.0]


def test_processes_give_the_same_grades(shelf: Shelf, monkeypatch: pytest.MonkeyPatch) -> None:
    items = [
        add_tune(shelf, tune_in(TUNE.format("jig", key))).id for key in ("G", "D", "A", "Edor")
    ]
    grade_tunes(shelf, PLAYER)
    before = [grade_on(shelf, item) for item in items]
    assert None not in before
    shelf.db.execute("DELETE FROM grade")
    monkeypatch.setattr(grades, "MANY", 2)
    monkeypatch.setattr(grades, "CHUNK", 2)
    assert grade_tunes(shelf, PLAYER, workers=2) == 4
    assert [grade_on(shelf, item) for item in items] == before


def test_a_tune_changed_meanwhile_gets_no_grade_of_what_it_was(
    shelf: Shelf, monkeypatch: pytest.MonkeyPatch
) -> None:
    item = add_tune(shelf, tune_in(TUNE.format("jig", "G"))).id
    work = grades.grade_of_tune

    def changed_while_working(tune, profile):  # type: ignore[no-untyped-def]
        revise_tune(shelf, item, tune_in(TUNE.format("jig", "D")))
        return work(tune, profile)

    monkeypatch.setattr(grades, "grade_of_tune", changed_while_working)
    assert grade_tunes(shelf, PLAYER) == 0
    assert grade_on(shelf, item) is None
