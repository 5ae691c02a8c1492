"""What the web app shows of a tune, and at which addresses."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tuneroutes import Asked, kettle, view_of, write
from webhouse import KETTLE

from reedwright.shelf.belongings.harps import keep_harp
from reedwright.shelf.facts.tunes import add_tune
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.tune.musicxml import write_musicxml
from reedwright.tune.musicxml_in import read_musicxml


def test_notes_of_the_view_are_where_the_text_has_them_and_drawn_once_each(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    lines = KETTLE.split("\n")
    drawn = re.findall(r'data-note="([^"]+)"', "".join(view["sheet"]["systems"]))
    assert sorted(drawn) == sorted(note["id"] for note in view["notes"])
    written = [
        lines[note["line"] - 1][note["column"] - 1 :][: note["length"]] for note in view["notes"]
    ]
    assert written[:8] == ["G2", "B", "G", "d", "G", "B", "G", "c2"]
    assert {note["pitch"] for note in view["notes"][:3]} == {"G4", "B4"}
    for bar in view["bars"]:
        begin = (bar["line"], bar["column"])
        end = (bar["end_line"], bar["end_column"])
        for id_ in bar["notes"]:
            (note,) = [each for each in view["notes"] if each["id"] == id_]
            assert begin <= (note["line"], note["column"]) < end
            assert note["bar"] == bar["index"]


@pytest.mark.parametrize("width", ["wide", "narrow", "stand"])
def test_each_width_has_all_notes_and_bars(client: Asked, width: str) -> None:
    app, house = client
    view = view_of(app, house.shelve().id, width=width)
    systems = "".join(view["sheet"]["systems"])
    assert len(re.findall(r"data-note=", systems)) == len(view["notes"]) == 58
    assert re.findall(r'data-bar="(\d+)"', systems) == [str(bar) for bar in range(9)]
    assert len(re.findall(r'data-hole="\d+"', view["sheet"]["chart"])) == 10


def test_a_tune_that_is_not_abc_is_shown_as_abc_with_its_notes_in_place(client: Asked) -> None:
    app, house = client
    with open_shelf(house.settings.shelf) as shelf:
        content = write_musicxml(kettle()).encode()
        tune = add_tune(shelf, read_musicxml(Path("kettle.musicxml"), content), content=content)
    view = view_of(app, tune.id)
    assert not view["editable"]
    assert view["notes"][0]["line"] > 0
    line = view["text"].split("\n")[view["notes"][0]["line"] - 1]
    assert line[view["notes"][0]["column"] - 1] == "G"
    assert write(app, view, KETTLE).status_code == 422
    copy = app.post(f"/tunes/{tune.id}/copy", json={"text": view["text"]}).json()["tune"]
    assert view_of(app, copy)["editable"]


def test_notes_on_practice_are_there_when_they_are_asked_for(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve(KETTLE.replace("Landing", "Stair")).id)
    found = app.get(f"/tunes/{view['tune']}/remarks").json()
    assert found["version"] == view["version"]
    assert len(found["remarks"]) > 2
    assert view_of(app, view["tune"])["sheet"]["remarks"] == found["remarks"]


def test_addresses_of_what_is_not_there_say_so(client: Asked) -> None:
    app, house = client
    tune = house.shelve().id
    for number in (tune + 1, 2**53):
        for route in ("view", "version", "sound", "times", "page.pdf", "tune.abc", "remarks"):
            assert app.get(f"/tunes/{number}/{route}").status_code == 404
    for note in ("n999", "r1", "n1g1", "%00", "%2e%2e"):
        assert app.get(f"/tunes/{tune}/notes/{note}").status_code == 404
    assert app.get(f"/tunes/{2**70}/view").status_code == 422
    assert app.get(f"/tunes/{tune}/sound?speed=9").status_code == 422


def test_where_harps_are_kept_the_easiest_is_said_to_be_one_of_them(client: Asked) -> None:
    asker, house = client
    number = house.shelve().id
    assert ">The easiest</option>" in asker.get(f"/tunes/{number}").text
    with open_shelf(house.settings.shelf) as shelf:
        keep_harp(shelf, "the red one", "C")
    assert ">The easiest of mine</option>" in asker.get(f"/tunes/{number}").text
    assert view_of(asker, number)["harp_name"].startswith("C harp")


def test_an_address_that_no_page_can_have_is_refused_in_plain_words(client: Asked) -> None:
    answer = client[0].get("/tunes/abc", headers={"accept": "text/html"})
    assert answer.status_code == 422
    assert "There is no such page." in answer.text and "integer" not in answer.text
