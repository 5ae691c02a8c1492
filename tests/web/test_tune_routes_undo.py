"""One line of undoing over a tune's text and its choices."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from webhouse import KETTLE, asked, settings_in

from reedwright.shelf.belongings.arrangements import choices_on, keep_choices
from reedwright.shelf.facts.tunes import add_tune, revise_tune
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ShelfError
from reedwright.tab.choices.model import TuneChoices
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.web.music.opening import looked_at
from reedwright.web.music.standing import version_of
from reedwright.web.music.stepping import keep_step, redo_step, undo_step
from reedwright.web.tune.saving import save_text

STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("text"), st.integers(0, 4)),
        st.tuples(st.just("choice"), st.integers(0, 3)),
        st.tuples(st.sampled_from(["undo", "redo", "reopen"]), st.just(0)),
    ),
    max_size=18,
)


def kettle() -> Tune:
    (tune,) = read_abc(KETTLE)
    assert isinstance(tune, Tune)
    return tune


def now(shelf: Shelf, tune: int) -> tuple[str, int]:
    """What is compared: the text, and one of the choices."""
    looked = looked_at(shelf, tune)
    return looked.text, looked.choices.octaves or 0


@pytest.fixture(scope="module")
def folder() -> Path:
    return Path(tempfile.mkdtemp(prefix="reedwright-undo-"))


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(steps=STEPS)
def test_any_steps_undone_and_redone_are_as_a_list_that_is_cut_where_one_goes_on(
    folder: Path, steps: list[tuple[str, int]]
) -> None:
    place = folder / "shelf"
    shelf = open_shelf(place)
    tune = add_tune(shelf, kettle()).id
    line = [now(shelf, tune)]
    at = 0
    for do, value in steps:
        version = version_of(shelf, tune)
        if do == "reopen":  # as after the server was started anew
            shelf.close()
            shelf = open_shelf(place)
        elif do == "text":
            text = KETTLE.replace("Kettle", f"Kettle {value}" if value else "Kettle")
            text += "|" * (value == 4)  # one has a bar line too many
            save_text(shelf, tune, text, version.tune)
            if text != line[at][0]:
                line[at + 1 :] = [(text, line[at][1])]
                at += 1
        elif do == "choice":
            looked = looked_at(shelf, tune)
            keep_step(shelf, looked, replace(looked.choices, octaves=value or None), "moved")
            if value != line[at][1]:
                line[at + 1 :] = [(line[at][0], value)]
                at += 1
        elif do == "undo" and at > 0:
            undo_step(shelf, tune, version)
            at -= 1
        elif do == "redo" and at < len(line) - 1:
            redo_step(shelf, tune, version)
            at += 1
        elif do in ("undo", "redo"):
            with pytest.raises(ShelfError, match="nothing"):
                (undo_step if do == "undo" else redo_step)(shelf, tune, version)
        assert now(shelf, tune) == line[at]
    shelf.close()


def test_what_others_changed_has_its_place_in_the_line_by_its_time(tmp_path: Path) -> None:
    with open_shelf(tmp_path / "shelf") as shelf:
        tune = add_tune(shelf, kettle()).id
        looked = looked_at(shelf, tune)
        keep_step(shelf, looked, replace(looked.choices, octaves=1), "an octave up")
        # As the command line does it, which knows nothing of the line.
        other = replace(kettle(), titles=("Another",), text="")
        revise_tune(shelf, tune, other)
        keep_choices(shelf, tune, TuneChoices("Another", "1", octaves=-1))
        seen = []
        while True:
            seen.append((looked_at(shelf, tune).item.name, now(shelf, tune)[1]))
            try:
                undo_step(shelf, tune, version_of(shelf, tune))
            except ShelfError:
                break
    kettle_name = "The Kettle on the Landing"
    assert seen == [("Another", -1), ("Another", 1), (kettle_name, 1), (kettle_name, 0)]


def test_undo_and_redo_go_on_after_a_restart_and_say_what_they_did(tmp_path: Path) -> None:
    with asked(tmp_path) as (client, house):
        tune = house.shelve().id
        view = client.get(f"/tunes/{tune}/view").json()
        assert not view["can_undo"]
        assert not view["can_redo"]
        view = client.post(
            f"/tunes/{tune}/text",
            json={"text": KETTLE.replace("c2ec", "c2eg"), "made_from": view["version"]},
        ).json()
        view = client.post(
            f"/tunes/{tune}/choices",
            json={"made_from": view["version"], "do": "ornament", "note": "n1", "kind": "cut"},
        ).json()
        shown = view["sheet"]["systems"]
        assert view["harp"] == "G"
        assert view["undo_says"].endswith("G4: a cut")
    with asked(tmp_path) as (client, _):
        for says in ("a cut", "line 7 changed"):
            view = client.post(f"/tunes/{tune}/undo", json={"made_from": view["version"]}).json()
            assert says in view["said"][0]
        assert not view["can_undo"]
        assert view["text"] == KETTLE
        assert view["harp"] == ""
        for _ in range(2):
            view = client.post(f"/tunes/{tune}/redo", json={"made_from": view["version"]}).json()
        assert not view["can_redo"]
        assert view["sheet"]["systems"] == shown
        nothing = client.post(f"/tunes/{tune}/redo", json={"made_from": view["version"]})
        assert nothing.status_code == 422
        assert "nothing to do again" in nothing.json()["message"]


def test_undoing_brings_back_what_the_tune_is_found_by(tmp_path: Path) -> None:
    with open_shelf(settings_in(tmp_path).shelf) as shelf:
        tune = add_tune(shelf, kettle()).id
        save_text(shelf, tune, KETTLE.replace("Kettle", "Pot"), 1)
        title = "SELECT title FROM fact WHERE item = ?"
        assert shelf.db.execute(title, (tune,)).fetchone()[0] == "The Pot on the Landing"
        undo_step(shelf, tune, version_of(shelf, tune))
        assert shelf.db.execute(title, (tune,)).fetchone()[0] == "The Kettle on the Landing"
        assert shelf.item(tune).name == "The Kettle on the Landing"
        assert choices_on(shelf, tune) is None
