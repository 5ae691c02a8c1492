"""The bench's long work: recordings measured, tunings searched for; what they leave behind."""

from __future__ import annotations

import tempfile
import time
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from fastapi.testclient import TestClient
from made_reeds import MadeReed, laid
from test_bench_pages import new_harp, words
from webhouse import House, asked

from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import find_tuning
from reedwright.shelf.belongings.harps import history_on
from reedwright.shelf.belongings.lists import keep_list
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.web.bench.recordings import RecordingTask, keep_entry, measure
from reedwright.web.bench.tunings import SearchAsked, keep_tuning, search_task
from reedwright.web.jobs.model import JobState
from reedwright.workshop.targets.making import reed_targets

# Invented. It needs the sixth of the low octave (E on a G harp), which the raised 3 blow gives.
SIXTHS = """X:1
T:Six Herring for a Penny
M:4/4
L:1/4
K:G
G,DEG,|DEDE|G,B,DE|DB,G,2|]
"""


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[TestClient, House]]:
    monkeypatch.setenv("REEDWRIGHT_BENCH", str(tmp_path / "bench"))
    monkeypatch.setenv("REEDWRIGHT_TUNINGS", str(tmp_path / "tunings"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    with asked(tmp_path) as found:
        yield found


def recording_in(folder: Path) -> Path:
    path = folder / "passing.wav"
    sound = laid([(0.2, MadeReed(440 * 2 ** (13 / 1200), 0.7))], 1.3)
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(22_050)
        file.writeframes(np.round(sound * 20_000).astype("<i2").tobytes())
    return path


def task_for(sound: Path, name: str = "mine.wav") -> RecordingTask:
    return RecordingTask(sound, name, reed_targets(parse_harp("G")), "G", "", True, "after", 0, {})


def test_a_recording_is_measured_kept_as_it_was_shown(
    bench: tuple[TestClient, House], tmp_path: Path
) -> None:
    client, house = bench
    item = new_harp(client, key="G")
    sound = recording_in(tmp_path)
    told: list[float] = []
    outcome = measure(task_for(sound), lambda share, doing: told.append(share))
    assert told[-1] == 1.0
    (reed,) = outcome.facts["measured"]["reeds"]
    assert (reed["hole"], reed["breath"]) == (4, "draw")
    assert reed["cents"] == pytest.approx(13.0, abs=0.06)
    with open_shelf(house.settings.shelf) as shelf:
        keep_entry(shelf, item, outcome.facts["entry"], "measured a reed")
        (kept,) = history_on(shelf, item).measurements
    assert kept.when == "after"
    heard = kept.of(Reed(4, Breath.DRAW))
    assert heard is not None
    assert heard.cents == pytest.approx(reed["cents"], abs=0.01)


def test_what_can_not_be_measured_is_told_by_the_users_name_for_it(tmp_path: Path) -> None:
    sound = tmp_path / "passing.wav"
    sound.write_bytes(b"this is no sound")
    with pytest.raises(ReedwrightError) as told:
        measure(task_for(sound, "harp in the kitchen.wav"), lambda share, doing: None)
    assert "harp in the kitchen.wav" in str(told.value)
    assert str(tmp_path) not in str(told.value)


def test_a_recording_is_refused_before_the_work_where_it_is_asked_wrongly(
    bench: tuple[TestClient, House], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    client, _ = bench
    sound = {"sound": ("../../x.wav", b"", "audio/wav")}
    for fields, what in (
        ({"order": "inside out"}, "inside out"),
        ({"a4": "300"}, "438"),
        ({"mine": "77"}, "77"),
        ({"tuning": "/etc/hostname.toml"}, "no tuning"),
    ):
        answer = client.post("/bench/recordings", data=fields, files=sound)
        assert answer.status_code in (404, 422)
        assert what in answer.json()["message"]
    passing = tmp_path / "passing"
    passing.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(passing))
    silent = client.post("/bench/recordings", files={"sound": ("../../kitchen.wav", b"no sound")})
    assert silent.status_code == 422
    assert "kitchen.wav" in silent.json()["message"]
    assert "/" not in silent.json()["message"].replace("kitchen.wav", "")
    assert not any(passing.iterdir())
    assert client.post("/bench/recordings", data={}).status_code == 422
    assert client.get("/bench/measured?job=none").status_code == 404
    assert "No recording was measured" in words(client.get("/bench/measured").text)
    assert client.post("/bench/recordings/none/keep", data={"item": 1}).status_code == 404


def test_the_raised_third_blow_is_found_for_tunes_that_want_it_and_kept_and_planned(
    bench: tuple[TestClient, House],
) -> None:
    """Raising 3 blow a whole tone gives the low octave's sixth (common practice, no source); or
    2 draw, which puts it into the other breath (docs/tuning-search.md)."""
    client, house = bench
    house.shelve(SIXTHS)
    begun = client.post(
        "/bench/tuning",
        data={"keys": "G", "octaves": 0, "player": "first-year", "keep": "draw 1-10"},
        follow_redirects=False,
    )
    assert begun.status_code == 303
    jobs = client.app.state.desk.jobs  # type: ignore[attr-defined]
    (job,) = jobs.all("tuning")
    until = time.monotonic() + 120
    while not jobs.job(job.name).over and time.monotonic() < until:
        jobs.wait(job.name, jobs.job(job.name).version, 1.0)
    assert jobs.job(job.name).standing is JobState.DONE, jobs.job(job.name).message
    html = client.get(f"/bench/tuning?job={job.name}").text
    assert "0 of 1 tune with no bends" in words(html)
    assert "Won: Six Herring for a Penny" in words(html)
    best = jobs.job(job.name).outcome.facts["tables"][0]["rows"][0]
    assert best["words"] == "3 blow up 2"
    assert (best["plain"], best["won_count"], best["lost_count"]) == (1, 1, 0)
    answer = client.post(
        f"/bench/tuning/{job.name}/keep",
        data={"table": 0, "row": 0, "name": "Penny ../tuning"},
        follow_redirects=False,
    )
    assert answer.headers["location"] == "/bench/plan?tuning=penny-tuning&ask=1"
    kept, shipped = find_tuning("penny-tuning"), find_tuning("richter-raised-3-blow")
    assert (kept.blow, kept.draw) == (shipped.blow, shipped.draw)
    assert "D4 → E4" in words(client.get(answer.headers["location"]).text)
    again = client.post(
        f"/bench/tuning/{job.name}/keep", data={"table": 0, "row": 0, "name": "Penny tuning"}
    )
    assert "already" in words(again.text)
    beyond = client.post(
        f"/bench/tuning/{job.name}/keep", data={"table": 0, "row": 99, "name": "x"}
    )
    assert beyond.status_code == 422


def test_a_search_is_refused_with_what_is_wrong_beside_its_field(
    bench: tuple[TestClient, House],
) -> None:
    client, house = bench
    assert "no tune on the shelf" in words(client.post("/bench/tuning", data={}).text)
    house.shelve(SIXTHS)
    for fields, what in (
        ({"tunes": "words"}, "Say which tunes"),
        ({"tunes": "words", "words": "zzzzzz"}, "No tune is found"),
        ({"tunes": "list", "chosen": "1"}, "Choose a list"),
        ({"base": "/etc/hostname.toml"}, "no tuning of that name"),
        ({"player": "../x"}, "no player of that name"),
        ({"keys": "H"}, "is not a key"),
        ({"keep": "blow 1-10, draw 1-10"}, "too few are left"),
        ({"valves": "some"}, "not understood"),
    ):
        answer = client.post("/bench/tuning", data=fields)
        assert answer.status_code == 422
        assert what in words(answer.text), fields


def test_a_search_takes_the_tunes_of_a_list_in_their_places(
    bench: tuple[TestClient, House],
) -> None:
    _, house = bench
    house.shelve()
    tune = house.shelve(SIXTHS)
    with open_shelf(house.settings.shelf) as shelf:
        chosen = keep_list(shelf, "Tuesday", [tune])
        task, wrong = search_task(shelf, SearchAsked(tunes="list", chosen=chosen.id))
    assert not wrong
    assert task is not None
    assert task.tunes == (tune.id,)


def test_a_tuning_is_not_kept_under_a_name_that_is_taken_or_none(
    bench: tuple[TestClient, House],
) -> None:
    for name in ("", "...", "/", "richter"):
        with pytest.raises(ReedwrightError):
            keep_tuning('title = "x"\nblow = "C4"\ndraw = "D4"\n', name)


def test_an_empty_form_has_nothing_wrong_on_it(bench: tuple[TestClient, House]) -> None:
    client, _ = bench
    for path in ("", "/plan", "/targets", "/valves", "/listen", "/tuning", "/measured"):
        html = client.get(f"/bench{path}").text
        assert "aria-invalid" not in html, path
        assert "built-in" not in html
