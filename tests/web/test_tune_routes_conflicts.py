"""Two windows, two people on one tune through the web app: nobody loses a word."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace

import pytest
from tuneroutes import Asked, choose, view_of, write
from webhouse import KETTLE

from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.model import ChangedMeanwhile
from reedwright.web.music.opening import looked_at
from reedwright.web.music.stepping import keep_step


def test_of_two_who_write_at_once_nobody_loses_a_word(client: Asked) -> None:
    app, house = client
    start = view_of(app, house.shelve().id)
    first = write(app, start, KETTLE.replace("Kettle", "Pot")).json()
    mine = KETTLE.replace("Kettle", "Pan")
    refused = write(app, start, mine)
    assert refused.status_code == 409
    said = refused.json()
    assert said["kind"] == "changed-meanwhile"
    assert said["view"]["text"] == first["text"]
    assert said["view"]["version"] == first["version"]
    # The ways out: on top of theirs, or as a tune of its own.
    copy = app.post(f"/tunes/{start['tune']}/copy", json={"text": mine}).json()["tune"]
    assert view_of(app, copy)["text"] == mine
    assert view_of(app, start["tune"])["text"] == first["text"]
    on_top = write(app, said["view"], mine).json()
    assert on_top["text"] == mine
    back = app.post(f"/tunes/{start['tune']}/undo", json={"made_from": on_top["version"]}).json()
    assert back["text"] == first["text"]


def test_of_several_who_save_at_the_same_moment_one_does_and_the_others_are_told(
    client: Asked,
) -> None:
    app, house = client
    start = view_of(app, house.shelve().id)
    texts = [KETTLE.replace("Kettle", name) for name in ("Pot", "Pan", "Cup", "Jug")]
    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(lambda text: write(app, start, text), texts))
    assert sorted(answer.status_code for answer in answers) == [200, 409, 409, 409]
    (kept,) = [
        text for text, answer in zip(texts, answers, strict=True) if answer.status_code == 200
    ]
    assert view_of(app, start["tune"])["text"] == kept
    assert view_of(app, start["tune"])["version"]["tune"] == 2


def test_choices_and_undoing_are_refused_from_an_older_state_of_text_or_choices(
    client: Asked,
) -> None:
    app, house = client
    start = view_of(app, house.shelve().id)
    one = choose(app, start, do="ornament", note="n1", kind="cut").json()
    for from_ in (start, {**one, "version": {**one["version"], "tune": 7}}):
        for answer in (
            choose(app, from_, do="ornament", note="n2", kind="cut"),
            app.post(f"/tunes/{start['tune']}/undo", json={"made_from": from_["version"]}),
            app.post(f"/tunes/{start['tune']}/redo", json={"made_from": from_["version"]}),
        ):
            assert answer.status_code == 409
            assert answer.json()["view"]["version"] == one["version"]
    # Text only minds text: whoever writes while another chooses goes on.
    assert write(app, start, KETTLE.replace("Kettle", "Pot")).status_code == 200
    assert app.get(f"/tunes/{start['tune']}/version").json() == {"tune": 2, "choices": 2}


def test_a_copy_takes_the_choices_with_it(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    view = choose(app, view, do="ornament", note="n1", kind="cut").json()
    copy = app.post(f"/tunes/{view['tune']}/copy", json={"text": view["text"]}).json()["tune"]
    assert copy != view["tune"]
    assert view_of(app, copy)["sheet"] == view["sheet"]


def test_what_was_typed_in_a_tune_that_was_taken_off_has_a_way_out(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    view = choose(app, view, do="ornament", note="n1", kind="cut").json()
    tune, mine = view["tune"], KETTLE.replace("Kettle", "Pan")
    with open_shelf(house.settings.shelf) as shelf:
        shelf.remove(tune)
    refused = write(app, view, mine)
    assert (refused.status_code, refused.json()["kind"]) == (404, "not-there")
    copy = app.post(f"/tunes/{tune}/copy", json={"text": mine})
    assert copy.status_code == 200
    copied = view_of(app, copy.json()["tune"])
    assert copied["text"] == mine
    # Put back, it is saved as it was going to be.
    assert app.post(f"/shelf/{tune}/put-back", data={"item": tune}).status_code == 200
    there = write(app, view, mine).json()
    assert there["text"] == mine
    assert there["sheet"]["systems"] == copied["sheet"]["systems"]  # with its ornament
    assert app.post("/tunes/999/copy", json={"text": mine}).status_code == 404


def test_between_looking_and_keeping_another_step_is_noticed(client: Asked) -> None:
    """Two steps that were both let in before either was kept."""
    asker, house = client
    number = house.shelve().id
    with open_shelf(house.settings.shelf) as shelf:
        looked = looked_at(shelf, number)
        choose(asker, view_of(asker, number), do="set", settings={"harp": "D"})
        with pytest.raises(ChangedMeanwhile):
            keep_step(shelf, looked, replace(looked.choices, harp="A"), "on another harp")
    assert view_of(asker, number)["harp"] == "D"
