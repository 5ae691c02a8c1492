"""The first page: a demo tune that sounds and prints where nothing is there, else what is."""

from __future__ import annotations

import io
import wave
from fractions import Fraction

import pypdf
import pytest
from fastapi.testclient import TestClient
from webhouse import KETTLE, House

from reedwright.shelf.belongings.arrangements import keep_choices
from reedwright.shelf.facts.tunes import revise_tune
from reedwright.shelf.finding.lately import latest_tunes
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.tab.choices.model import TuneChoices
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.unfold import unfold
from reedwright.web.start.demo import TEXT, demo_arrangement

Asked = tuple[TestClient, House]


def test_the_first_page_of_an_empty_shelf_has_the_demo_tune_drawn_with_every_note(
    client: Asked,
) -> None:
    html = client[0].get("/").text
    assert "The Reedmaker" in html
    narrow = client[0].get("/start/demo/music").text
    for note in demo_arrangement().tune.voices[0].notes:
        assert f'data-note="{note.id}"' in html
        assert f'data-note="{note.id}"' in narrow
    assert narrow.count("<svg") > html.count("<svg") - 1  # the chart is none of the music's lines


def test_the_demo_tune_is_thirty_two_bars_long_as_played() -> None:
    (tune,) = read_abc(TEXT)
    assert isinstance(tune, Tune)
    # By hand: two parts of eight bars of 2/2, each played twice, and an upbeat of a quarter, which
    # the last bar does not give back.
    assert unfold(tune).length == 32 * Fraction(4) + 1


def test_the_demo_tune_s_times_are_those_of_its_sound(client: Asked) -> None:
    for speed in (1.0, 0.5):
        told = client[0].get(f"/start/demo/times?speed={speed}").json()
        sound = client[0].get(f"/start/demo/sound?speed={speed}")
        assert sound.headers["content-type"] == "audio/wav"
        with wave.open(io.BytesIO(sound.content)) as file:  # Python's own reader
            seconds = file.getnframes() / file.getframerate()
        assert seconds == pytest.approx(told["duration"], abs=0.01)
        # Q:1/2=96 and 32 bars of two halves: 40 seconds, twice that at half speed.
        tune_seconds = told["notes"][-1][2] - told["notes"][0][1]
        assert tune_seconds == pytest.approx(40 / speed, abs=1.0 / speed)


@pytest.mark.parametrize("speed", ["0.1", "9", "nan", "x"])
def test_a_speed_that_nobody_can_play_is_refused(client: Asked, speed: str) -> None:
    assert client[0].get(f"/start/demo/sound?speed={speed}").status_code == 422


def test_the_demo_tune_is_printed_as_a_page(client: Asked) -> None:
    pdf = client[0].get("/start/demo/page.pdf")
    pages = pypdf.PdfReader(io.BytesIO(pdf.content)).pages
    assert len(pages) == 1
    assert "Reedmaker" in pages[0].extract_text()


def test_the_demo_tune_is_opened_to_be_changed_once(client: Asked) -> None:
    asker, house = client
    first = asker.post("/start/demo/open", follow_redirects=False)
    again = asker.post("/start/demo/open", follow_redirects=False)
    assert first.status_code == 303
    assert first.headers["location"] == again.headers["location"] == "/tunes/1"
    with open_shelf(house.settings.shelf) as shelf:
        assert shelf.item(1).state.text == TEXT
    assert "demo-music" not in asker.get("/").text


def test_the_tune_that_was_changed_last_stands_first(client: Asked) -> None:
    asker, house = client
    old, new = house.shelve(), house.shelve(KETTLE.replace("Kettle", "Lamp"))
    with open_shelf(house.settings.shelf) as shelf:
        assert [each.item.id for each in latest_tunes(shelf, 8)] == [new.id, old.id]
        (changed,) = read_abc(KETTLE.replace("G2BG dGBG", "G2BG dGBd"))
        assert isinstance(changed, Tune)
        revise_tune(shelf, old.id, changed)
        assert [each.item.id for each in latest_tunes(shelf, 8)] == [old.id, new.id]
        keep_choices(shelf, new.id, TuneChoices("x", "1", harp="G"))
        assert [each.item.id for each in latest_tunes(shelf, 8)] == [new.id, old.id]
        shelf.remove(new.id)
        assert [each.item.id for each in latest_tunes(shelf, 8)] == [old.id]
    html = asker.get("/").text
    assert "The Kettle on the Landing" in html
    assert "The Lamp on the Landing" not in html
