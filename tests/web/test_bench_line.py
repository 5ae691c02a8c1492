"""The reed meter's line: sound goes in over a WebSocket, readings come back, hostile frames end it.

Pitches are those that the reeds were made with (tests/workshop/made_reeds.py).
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from fastapi.testclient import TestClient
from made_reeds import MadeReed, Sound, laid
from starlette.testclient import WebSocketTestSession
from starlette.websockets import WebSocketDisconnect
from webhouse import House, asked

from reedwright.shelf.belongings.harps import history_on, keep_harp
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.web.bench import frames, line
from reedwright.workshop.history.model import Measured

RATE = 48_000
LINE = "ws://127.0.0.1:8420/bench/listen/ws"
BEGIN: dict[str, Any] = {"rate": RATE, "key": "G", "tuning": "richter"}


@pytest.fixture(scope="module")
def lasting(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, House]]:
    """One house for all that leaves nothing behind in it."""
    with asked(tmp_path_factory.mktemp("house")) as found:
        yield found


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[TestClient, House]]:
    monkeypatch.setenv("REEDWRIGHT_BENCH", str(tmp_path / "bench"))
    with asked(tmp_path) as found:
        yield found


def begun(client: TestClient, **changes: Any) -> Any:
    """A line that listens for the reeds of a G harp. Browsers say where their page is from."""
    session = client.websocket_connect(LINE, headers={"origin": str(client.base_url).rstrip("/")})
    return session, BEGIN | changes


def play(session: WebSocketTestSession, sound: Sound, block: int = 4096) -> None:
    for at in range(0, len(sound), block):
        session.send_bytes(sound[at : at + block].astype("<f4").tobytes())


def until(session: WebSocketTestSession, name: str) -> Any:
    """What is next said of that name."""
    for _ in range(500):
        said = session.receive_json()
        if name in said:
            return said[name]
        assert "trouble" not in said, said
    raise AssertionError(f"nothing was said of {name}")


def sharp_a(seconds: float = 1.0, whole: float = 1.8) -> Sound:
    return laid([(0.2, MadeReed(440 * 2 ** (13 / 1200), seconds))], whole, rate=RATE)


def test_a_reed_is_read_kept_with_its_harp_and_taken_back(
    bench: tuple[TestClient, House],
) -> None:
    client, house = bench
    with open_shelf(house.settings.shelf) as shelf:
        item = keep_harp(shelf, "the red one", "G").id
    session, begin = begun(client, mine=item, temperament="equal", a4="442")
    with session as talk:
        talk.send_json({"begin": begin})
        ready = until(talk, "ready")
        assert (ready["harp"], ready["tuned"]) == ("G harp", "equal, A 442")
        sound = sharp_a()
        play(talk, sound[: int(0.9 * RATE)])
        reading = until(talk, "reading")
        while reading["seconds"] < 0.5:
            reading = until(talk, "reading")
        flat = 13.0 - 7.85  # 442 Hz lies 7.85 cents above 440: 1200 log2(442/440)
        assert reading["cents"] == pytest.approx(flat, abs=0.06)
        assert reading["words"].startswith("4 draw, A4: 5.1 cents sharp")
        play(talk, sound[int(0.9 * RATE) :])
        assert until(talk, "tone") == {"count": 1, "words": "4 draw"}
        talk.send_json({"keep": {"item": item, "when": "before", "note": "sticks"}})
        kept = until(talk, "kept")
        assert (kept["words"], kept["name"], kept["count"]) == ("4 draw", "the red one", 0)
        talk.send_json({"stop": True})
    with open_shelf(house.settings.shelf) as shelf:
        (entry,) = history_on(shelf, item).entries
    assert isinstance(entry, Measured)
    assert (entry.when, entry.tuned_to, entry.note) == ("before", "equal, A 442", "sticks")
    (reed,) = entry.reeds
    assert reed.hz == pytest.approx(440 * 2 ** (13 / 1200), rel=4e-5)  # 0.07 cents
    back = client.post(
        f"/bench/harps/{item}/undo", data={"state": kept["state"]}, follow_redirects=False
    )
    assert back.status_code == 303
    with open_shelf(house.settings.shelf) as shelf:
        assert history_on(shelf, item).entries == ()


def test_a_reading_asked_for_while_the_reed_sounds_is_kept_when_it_falls_silent(
    bench: tuple[TestClient, House],
) -> None:
    client, house = bench
    with open_shelf(house.settings.shelf) as shelf:
        item = keep_harp(shelf, "the red one", "G").id
    session, begin = begun(client, mine=item)
    sound = sharp_a()
    with session as talk:
        talk.send_json({"begin": begin})
        play(talk, sound[: int(0.8 * RATE)])
        assert until(talk, "reading") is not None
        talk.send_json({"keep": {"item": item}})
        assert "silent" in until(talk, "waiting")
        play(talk, sound[int(0.8 * RATE) :])
        assert until(talk, "kept")["words"] == "4 draw"


def test_all_that_was_heard_is_kept_as_one_measurement(bench: tuple[TestClient, House]) -> None:
    client, house = bench
    with open_shelf(house.settings.shelf) as shelf:
        item = keep_harp(shelf, "the red one", "G").id
    session, begin = begun(client, mine=item)
    two = laid([(0.2, MadeReed(196.0, 0.6)), (1.1, MadeReed(246.94, 0.6))], 2.2, rate=RATE)
    with session as talk:
        talk.send_json({"begin": begin})
        play(talk, two)
        while until(talk, "tone")["count"] < 2:
            pass
        talk.send_json({"keep": {"item": item, "which": "all"}})
        assert until(talk, "kept")["words"] == "1 blow, 2 blow"
        talk.send_json({"keep": {"item": item, "which": "all"}})
        assert "sound one first" in until(talk, "not_kept")["words"]
    with open_shelf(house.settings.shelf) as shelf:
        assert len(history_on(shelf, item).entries) == 1


def test_reeds_of_another_harp_are_not_kept_with_one_that_has_others(
    bench: tuple[TestClient, House],
) -> None:
    client, house = bench
    with open_shelf(house.settings.shelf) as shelf:
        item = keep_harp(shelf, "the D", "D").id
    session, begin = begun(client)
    with session as talk:
        talk.send_json({"begin": begin})
        play(talk, sharp_a())
        until(talk, "tone")
        talk.send_json({"keep": {"item": item}})
        assert "the D is a D harp" in until(talk, "not_kept")["words"]
        talk.send_json({"keep": {"item": 999}})
        assert "999" in until(talk, "not_kept")["words"]


def test_it_can_be_aimed_anew_and_what_is_wrong_is_told_by_field(
    lasting: tuple[TestClient, House],
) -> None:
    client, _ = lasting
    session, begin = begun(client)
    with session as talk:
        talk.send_json({"begin": begin})
        assert until(talk, "ready")["hole"] == 0
        talk.send_json({"aim": {"key": "G", "hole": 4, "breath": "draw"}})
        ready = until(talk, "ready")
        assert (ready["hole"], ready["breath"]) == (4, "draw")
        assert ready["hz"] == pytest.approx(440.0)  # ISO 16
        talk.send_json({"aim": {"key": "G", "a4": "300"}})
        assert "438" in until(talk, "wrong")["a4"]
        talk.send_json({"aim": {"key": "G", "hole": 12}})
        assert "10 holes" in until(talk, "wrong")["hole"]
        talk.send_json({"aim": {"key": "G", "tuning": "/etc/passwd.toml"}})
        assert "no tuning" in until(talk, "wrong")["tuning"]


def _floats(*values: float) -> bytes:
    return np.array(values, dtype="<f4").tobytes()


HOSTILE: dict[str, tuple[bytes | str, int]] = {
    "text that is no JSON": ("hello", 1003),
    "JSON of another shape": ('{"launch": true}', 1003),
    "a list": ("[]", 1003),
    "beginning twice": (json.dumps({"begin": BEGIN}), 1003),
    "deeply nested": ("[" * 4000 + "]" * 4000, 1003),
    "keeping with a harp of no number": ('{"keep": {"item": "../../etc"}}', 1003),
    "more text than is taken": (json.dumps({"aim": {"beats": "x" * 9000}}), 1009),
    "bytes that are no floats": (b"\x00\x01\x02", 1007),
    "nothing": (b"", 1007),
    "no number": (_floats(0.0, float("nan")), 1007),
    "endless": (_floats(float("inf")), 1007),
    "louder than any microphone": (_floats(0.1, 1e30), 1007),
    "too much in one piece": (bytes(frames.MOST_BYTES + 4), 1009),
}


@pytest.mark.parametrize("what", HOSTILE)
def test_a_hostile_frame_ends_the_line_with_a_word(
    lasting: tuple[TestClient, House], what: str
) -> None:
    client, _ = lasting
    frame, code = HOSTILE[what]
    session, begin = begun(client)
    with session as talk:
        talk.send_json({"begin": begin})
        until(talk, "ready")
        talk.send_bytes(frame) if isinstance(frame, bytes) else talk.send_text(frame)
        said = talk.receive_json()
        assert said["trouble"].endswith(".")
        with pytest.raises(WebSocketDisconnect) as ended:
            talk.receive_json()
        assert ended.value.code == code


@pytest.mark.parametrize(
    "first",
    [
        b"\x00\x00\x00\x00",
        "{}",
        json.dumps({"begin": BEGIN | {"rate": 8}}),
        json.dumps({"begin": BEGIN | {"rate": 10**9}}),
        json.dumps({"begin": BEGIN | {"key": "H sharp"}}),
        json.dumps({"begin": BEGIN | {"mine": 77}}),
    ],
)
def test_a_line_that_does_not_begin_well_is_ended(
    lasting: tuple[TestClient, House], first: bytes | str
) -> None:
    client, _ = lasting
    session, _ = begun(client)
    with session as talk:
        talk.send_bytes(first) if isinstance(first, bytes) else talk.send_text(first)
        with pytest.raises(WebSocketDisconnect) as ended:
            for _ in range(3):
                talk.receive_json()
        assert ended.value.code == 1003


def test_more_sound_than_a_microphone_gives_ends_the_line(
    lasting: tuple[TestClient, House],
) -> None:
    client, _ = lasting
    session, begin = begun(client)
    with session as talk:
        talk.send_json({"begin": begin | {"rate": 16_000}})
        until(talk, "ready")
        second = np.zeros(16_000, dtype="<f4").tobytes()
        for _ in range(30):  # half a minute at once
            talk.send_bytes(second)
        with pytest.raises(WebSocketDisconnect) as ended:
            for _ in range(50):
                talk.receive_json()
        assert ended.value.code == 1008


def test_only_so_many_lines_are_open_at_once_and_an_ended_one_makes_room(
    lasting: tuple[TestClient, House], monkeypatch: pytest.MonkeyPatch
) -> None:
    client, _ = lasting
    monkeypatch.setattr(line, "MOST_LINES", 1)
    first, begin = begun(client)
    with first as talk:
        talk.send_json({"begin": begin})
        until(talk, "ready")
        second, _ = begun(client)
        with second as other:
            assert "close one" in other.receive_json()["trouble"]
            with pytest.raises(WebSocketDisconnect) as ended:
                other.receive_json()
            assert ended.value.code == 1013
    third, begin = begun(client)
    with third as talk:
        talk.send_json({"begin": begin})
        until(talk, "ready")


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:8420", "sec-fetch-site": "cross-site"},
        {},
    ],
)
def test_a_page_of_elsewhere_gets_no_line(
    lasting: tuple[TestClient, House], headers: dict[str, str]
) -> None:
    """Browsers do not keep other sites from opening WebSockets (RFC 6455, 10.2): Origin tells."""
    client, _ = lasting
    with (
        pytest.raises(WebSocketDisconnect),
        client.websocket_connect(LINE, headers=headers) as talk,
    ):
        talk.send_json({"begin": BEGIN})
        talk.receive_json()
