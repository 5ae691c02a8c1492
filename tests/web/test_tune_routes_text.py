"""The text of a tune through the web app: kept to the letter, problems in place."""

from __future__ import annotations

import json

import pytest
from tuneroutes import JUMP, Asked, choose, view_of, write
from webhouse import KETTLE

from reedwright.shelf.keeping.opening import open_shelf


@pytest.mark.parametrize(
    "text",
    [
        KETTLE.replace("\n", "\r\n"),
        KETTLE.replace("\n", "\r"),
        KETTLE.removesuffix("\n"),
        KETTLE + "\n\n% a word\n\n",
        KETTLE.replace("Kettle", JUMP),
        KETTLE.replace("Kettle", "Ke\u0301ttle \U0001f3b5 \u2028 \x85 \u202e"),
        "",
        "nothing of music\t ",
        KETTLE.replace("K:G", "K:Q"),
        "X:1\nK:C\n" + "[" * 5000,
    ],
    ids=["crlf", "cr", "no end", "more", "script", "odd", "empty", "words", "key", "chords"],
)
def test_what_is_typed_is_kept_to_the_letter_whether_it_is_music_or_not(
    client: Asked, text: str
) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    answer = write(app, view, text)
    assert answer.status_code == 200
    assert answer.json()["text"] == text
    assert view_of(app, view["tune"])["text"] == text
    assert app.get(f"/tunes/{view['tune']}/tune.abc").content == text.encode()
    page = app.get(f"/tunes/{view['tune']}", headers={"accept": "text/html"})
    assert page.status_code == 200
    assert JUMP not in page.text


@pytest.mark.parametrize("sign", ["\\u0000", "\\ud800", "\\u0007", "\\ufffe"])
def test_signs_that_no_text_can_hold_are_refused_and_change_nothing(
    client: Asked, sign: str
) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    body = json.dumps({"text": KETTLE + "%", "made_from": view["version"]}).replace("%", sign)
    answer = app.post(
        f"/tunes/{view['tune']}/text", content=body, headers={"content-type": "application/json"}
    )
    assert answer.status_code == 422
    assert view_of(app, view["tune"])["version"] == view["version"]


def test_a_very_long_text_is_kept_and_a_longer_one_refused(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    long = KETTLE + "%" + "x" * 90_000 + "\n"
    answer = write(app, view, long)
    assert answer.status_code == 200
    assert answer.json()["text"] == long
    assert write(app, answer.json(), long * 2).status_code in (413, 422)


def test_every_save_is_a_state_and_the_same_text_is_none(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    for number in range(2, 5):
        view = write(app, view, KETTLE.replace("G2BG", "G2B" + "abc"[number - 2], 1)).json()
        assert view["version"]["tune"] == number
    same = write(app, {**view, "version": {"tune": 1, "choices": 0}}, view["text"])
    assert same.status_code == 200
    assert same.json()["version"]["tune"] == 4


# The places are counted by hand in the text.
@pytest.mark.parametrize(
    ("old", "new", "line", "column", "length"),
    [
        ("c2ec", "[c2ec", 7, 13, 5),
        ("K:G", "K:Q", 6, 3, 1),
        ("M:4/4", "M:four", 4, 3, 4),
        ("cAFA G4:|\n", "cAF?A G4:|\n", 8, 36, 1),
        ("|1 cAFA", "|1 cAFA !wobble!", 7, 40, 8),
        ("edBd|e2de", "edB|e2de", 8, 3, None),
    ],
    ids=["chord", "key", "metre", "sign", "decoration", "short bar"],
)
def test_a_problem_stands_at_its_line_and_column(
    client: Asked, old: str, new: str, line: int, column: int, length: int | None
) -> None:
    app, house = client
    text = KETTLE.replace(old, new, 1)
    for ends in ("\n", "\r\n") if old == "c2ec" else ("\r\n",):
        view = view_of(app, house.shelve().id)
        view = write(app, view, text.replace("\n", ends)).json()
        found = view["problems"]
        assert len(found) == 1, found
        assert (found[0]["line"], found[0]["column"]) == (line, column)
        if length:
            assert found[0]["length"] == length


def test_a_text_without_a_reading_shows_the_music_as_it_was(client: Asked) -> None:
    app, house = client
    before = view_of(app, house.shelve().id)
    broken = write(app, before, KETTLE.replace("c2ec", "[c2ec")).json()
    assert not broken["readable"]
    assert broken["stale_sheet"]
    assert broken["problems"][0]["severity"] == "error"
    assert broken["sheet"]["systems"] == before["sheet"]["systems"]
    assert all(note["line"] == 0 for note in broken["notes"])
    refused = choose(app, broken, do="play", note="n1", way="4 blow")
    assert refused.status_code == 422
    assert app.get(f"/tunes/{before['tune']}/page.pdf").status_code == 422
    mended = write(app, broken, KETTLE.replace("c2ec", "c2ed")).json()
    assert mended["readable"]
    assert not mended["stale_sheet"]
    assert app.get(f"/tunes/{before['tune']}/page.pdf").content.startswith(b"%PDF")
    assert mended["sheet"]["systems"] != before["sheet"]["systems"]


@pytest.mark.parametrize(
    ("music", "says"),
    [
        ("GABc dedc|" * 625, "5000 notes"),
        ("G-" * 1500 + "G|", "1501 notes in bar 1"),
        ("{" + "abcd" * 500 + "}c|", "grace notes on one note in bar 1"),
        ("G8|", "one from 10 to 1000"),
    ],
    ids=["notes", "bar", "graces", "slow"],
)
def test_what_nobody_could_play_or_wait_for_is_kept_and_told(
    client: Asked, music: str, says: str
) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    text = f"X:1\nT:Too Much\nQ:1/4=1\nL:1/8\nK:G\n{music}\n"
    view = write(app, view, text).json()
    assert view["text"] == text
    heard = app.get(f"/tunes/{view['tune']}/times")
    assert heard.status_code == 422
    told = [heard.json()["message"], *(each["message"] for each in view["problems"])]
    assert any(says in each for each in told)


def test_a_tune_that_was_taken_off_the_shelf_is_not_shown_until_it_is_put_back(
    client: Asked,
) -> None:
    app, house = client
    tune = house.shelve().id
    with open_shelf(house.settings.shelf) as shelf:
        shelf.remove(tune)
        answer = app.get(f"/tunes/{tune}/view")
        assert answer.status_code == 404
        assert "Put it back" in answer.json()["message"]
        shelf.put_back(tune)
    assert app.get(f"/tunes/{tune}/view").status_code == 200


def test_a_second_tune_in_the_text_is_told(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    view = write(app, view, KETTLE + "X:2\nT:More\nK:D\ndef|\n").json()
    (problem,) = [each for each in view["problems"] if "second tune" in each["message"]]
    assert (problem["line"], problem["severity"]) == (9, "warning")
