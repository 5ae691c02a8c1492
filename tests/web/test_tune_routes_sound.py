"""The sound that the page plays, and the times by which it marks notes."""

from __future__ import annotations

import io
import wave
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from fastapi.testclient import TestClient
from webhouse import KETTLE, House

from reedwright.shelf.keeping.opening import open_shelf
from reedwright.web.music.standing import stand
from reedwright.web.tune.hearing import NotWanted, wav_of

# Notes far apart in time and pitch, so that the ear and the measure agree where they begin.
DOORS = "X:1\nT:The Two Doors\nM:4/4\nL:1/4\nQ:1/4=60\nK:G\n|:Gzdz|gzBz:|\n"
STEPS = "X:1\nT:Three Steps\nR:waltz\nM:3/4\nL:1/8\nQ:1/4=60\nK:G\n|:Gzzzdz|zzBzzz:|\n"


def heard(client: TestClient, address: str) -> tuple[int, npt.NDArray[np.float64]]:
    answer = client.get(address)
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "audio/wav"
    with wave.open(io.BytesIO(answer.content)) as file:
        assert (file.getnchannels(), file.getsampwidth()) == (1, 2)
        frames = np.frombuffer(file.readframes(file.getnframes()), "<i2")
        return file.getframerate(), frames / 32768


def onsets(rate: int, sound: npt.NDArray[np.float64]) -> list[float]:
    """Seconds at which the sound rises out of what rang before: the loudness of 4 ms is more than
    thrice that of the 60 ms before, and no onset was within the last 300 ms."""
    step = rate // 1000
    frames = sound[: len(sound) // step * step].reshape(-1, step)
    power = np.convolve((frames**2).mean(axis=1), np.ones(4) / 4, "full")[: len(frames)]
    found: list[float] = []
    for at in range(64, len(power)):
        before = power[at - 64 : at - 4].mean() + 1e-5
        now = (at - 2) * step / rate
        if power[at] > 9 * before and (not found or now - found[-1] > 0.3):
            found.append(now)
    return found


@pytest.mark.parametrize("query", ["speed=1", "speed=0.5", "speed=1.25&count_in=0"])
def test_notes_begin_in_the_sound_when_their_times_say(
    client: tuple[TestClient, House], query: str
) -> None:
    app, house = client
    tune = house.shelve(DOORS).id
    rate, sound = heard(app, f"/tunes/{tune}/sound?{query}")
    told = app.get(f"/tunes/{tune}/times?{query}").json()
    assert told["duration"] == pytest.approx(len(sound) / rate, abs=1e-3)
    begins = [note[1] for note in told["notes"]]
    assert len(begins) == 8  # four notes, twice
    assert np.abs(np.array(onsets(rate, sound)) - begins).max() < 0.010


def test_bars_are_told_as_they_are_played_by_their_index_as_written(
    client: tuple[TestClient, House],
) -> None:
    app, house = client
    tune = house.shelve().id
    told = app.get(f"/tunes/{tune}/times?speed=1").json()
    # |: 0 1 2 |1 3 :|2 4 |] |: 5 6 7 8 :| by hand.
    order = [0, 1, 2, 3, 0, 1, 2, 4, 5, 6, 7, 8, 5, 6, 7, 8]
    assert [bar[0] for bar in told["bars"]] == order
    for one, two in zip(told["bars"], told["bars"][1:], strict=False):
        assert one[2] == pytest.approx(two[1])
    of_bar = {note["id"]: note["bar"] for note in app.get(f"/tunes/{tune}/view").json()["notes"]}
    for id_, begin, _, hole, breath in told["notes"]:
        assert any(
            index == of_bar[id_] and first - 0.05 <= begin < last
            for index, first, last in told["bars"]
        )
        assert 1 <= hole <= 10
        assert breath in ("blow", "draw")


def test_a_count_in_comes_before_the_tune_and_clicks_go_through_it(
    client: tuple[TestClient, House],
) -> None:
    app, house = client
    tune = house.shelve(STEPS).id
    plain = app.get(f"/tunes/{tune}/times?speed=1").json()
    counted = app.get(f"/tunes/{tune}/times?speed=1&count_in=1").json()
    # A bar of three crotchets at 60 a minute.
    assert counted["tune_start"] - plain["tune_start"] == pytest.approx(3.0)
    rate, clicked = heard(app, f"/tunes/{tune}/sound?speed=1&clicks=1")
    found = np.array(onsets(rate, clicked))
    assert len(found) == 12  # on every beat, also where the tune rests
    assert np.abs(found - plain["tune_start"] - np.arange(12)).max() < 0.010
    _, quiet = heard(app, f"/tunes/{tune}/sound?speed=1")
    assert len(onsets(rate, quiet)) == 6


def test_the_sound_may_be_kept_only_where_it_is_of_the_state_that_is_asked_for(
    client: tuple[TestClient, House],
) -> None:
    app, house = client
    tune = house.shelve(DOORS).id
    kept = {
        at: app.get(f"/tunes/{tune}/sound?speed=1&at={at}").headers["cache-control"]
        for at in ("1.0", "2.0", "", "x")
    }
    assert "max-age" in kept["1.0"]
    assert {kept[at] for at in ("2.0", "", "x")} == {"no-store"}


def test_a_sound_that_nobody_waits_for_is_given_up_and_made_for_the_next(
    client: tuple[TestClient, House],
) -> None:
    _, house = client
    tune = house.shelve(KETTLE).id
    with open_shelf(house.settings.shelf) as shelf:
        standing = stand(shelf, tune)
    asked = iter([True, True, False, False])
    with pytest.raises(NotWanted):
        wav_of(standing, 0.77, False, False, lambda: next(asked))
    assert wav_of(standing, 0.77, False, False).startswith(b"RIFF")


def test_a_text_that_cannot_be_read_is_heard_as_it_last_could(
    client: tuple[TestClient, House],
) -> None:
    app, house = client
    tune = house.shelve(DOORS).id
    before: Any = app.get(f"/tunes/{tune}/times?speed=1").json()
    body = {"text": DOORS.replace("|:G", "|:[G"), "made_from": {"tune": 1}}
    assert not app.post(f"/tunes/{tune}/text", json=body).json()["readable"]
    assert app.get(f"/tunes/{tune}/times?speed=1").json() == before
    empty = house.shelve("X:1\nT:Nothing yet\nK:C\nCDEF|\n").id
    body = {"text": "", "made_from": {"tune": 1}}
    app.post(f"/tunes/{empty}/text", json=body)
    # Its first state still has notes; a tune that never had any can't be heard.
    assert app.get(f"/tunes/{empty}/times?speed=1").status_code == 200
