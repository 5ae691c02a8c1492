"""Editing a tune through the web app: text to the letter, problems in place, choices, conflicts."""

from __future__ import annotations

import json
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from webhouse import KETTLE, House

from reedwright.harp import tunings as harp_files
from reedwright.shelf.belongings.harps import keep_harp
from reedwright.shelf.facts.tunes import add_tune
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.tab.arrange import arrange
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.choices.session import Session
from reedwright.tab.ornaments.model import OrnamentKind
from reedwright.tab.wishes import Wishes
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.musicxml import write_musicxml
from reedwright.tune.musicxml_in import read_musicxml
from reedwright.web.music.standing import stand

Asked = tuple[TestClient, House]
JUMP = '</script><img src=x onerror="alert(1)">'


def kettle() -> Tune:
    (tune,) = read_abc(KETTLE)
    assert isinstance(tune, Tune)
    return tune


def view_of(client: TestClient, tune: int, **query: str) -> dict[str, Any]:
    answer = client.get(f"/tunes/{tune}/view", params=query)
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json()
    return found


def write(client: TestClient, view: dict[str, Any], text: str) -> Any:
    body = {"text": text, "made_from": view["version"]}
    return client.post(f"/tunes/{view['tune']}/text", json=body)


def choose(client: TestClient, view: dict[str, Any], **step: object) -> Any:
    body = {"made_from": view["version"], **step}
    return client.post(f"/tunes/{view['tune']}/choices", json=body)


# -- text ------------------------------------------------------------------------------------


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


# -- conflicts -------------------------------------------------------------------------------


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


# -- the view --------------------------------------------------------------------------------


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


# -- choices ---------------------------------------------------------------------------------

HIGH = """X:1
T:The Two Doors
M:4/4
L:1/4
K:G
GBdG|G2 z2|B2 d2|G4|]
"""


def test_pinning_forbidding_and_letting_go_change_what_is_played(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve(HIGH).id)
    view = choose(app, view, do="set", settings={"harp": "C"}).json()
    detail = app.get(f"/tunes/{view['tune']}/notes/n1").json()
    # G4 on a C harp is 2 draw and 3 blow (common practice: the standard tuning).
    assert {way["way"] for way in detail["ways"]} == {"2 draw", "3 blow"}
    now = detail["now"]["way"]
    (other,) = [way["way"] for way in detail["ways"] if way["way"] != now]
    pinned = choose(app, view, do="play", note="n1", way=other).json()
    assert any(other in each for each in pinned["said"])
    note = pinned["notes"][0]
    assert (note["way"], note["pinned"]) == (other, True)
    assert pinned["sheet"]["systems"] != view["sheet"]["systems"]
    free = choose(app, pinned, do="unpin", note="n1").json()
    assert (free["notes"][0]["way"], free["notes"][0]["pinned"]) == (now, False)
    never = choose(app, free, do="never", note="n1", way=now).json()
    assert never["notes"][0]["way"] == other
    told = app.get(f"/tunes/{view['tune']}/notes/n1").json()["ways"]
    assert [way["way"] for way in told if way["forbidden"]] == [now]
    allowed = choose(app, never, do="allow", note="n1", way=now).json()
    assert allowed["notes"][0]["way"] == now
    wrong = choose(app, allowed, do="play", note="n1", way="5 draw")
    assert wrong.status_code == 422
    assert "5 draw" in wrong.json()["message"]


def test_the_price_of_a_way_is_what_the_whole_tune_then_costs_more(client: Asked) -> None:
    app, house = client
    tune = house.shelve(HIGH).id
    view = choose(app, view_of(app, tune), do="set", settings={"harp": "C"}).json()
    detail = app.get(f"/tunes/{tune}/notes/n4").json()
    (other,) = [way for way in detail["ways"] if not way["current"]]
    with open_shelf(house.settings.shelf) as shelf:
        before = stand(shelf, tune).arrangement
        assert before is not None
        choose(app, view, do="play", note="n4", way=other["way"])
        after = stand(shelf, tune).arrangement
        assert after is not None
    assert other["effort_change"] == pytest.approx(after.effort - before.effort)
    assert other["effort_change"] > 0


def test_the_price_of_an_ornament_is_that_of_arranging_anew_with_it(client: Asked) -> None:
    app, house = client
    tune = house.shelve(HIGH).id
    view = choose(app, view_of(app, tune), do="set", settings={"harp": "C"}).json()
    detail = app.get(f"/tunes/{tune}/notes/n5").json()
    cut = next(each for each in detail["ornaments"] if each["kind"] == "cut")
    assert cut["possible"]
    assert not cut["chosen"]
    with open_shelf(house.settings.shelf) as shelf:
        session = stand(shelf, tune).session
    assert isinstance(session, Session)
    plain = session.arranged()
    anew = arrange(
        plain.plain, plain.harp, plain.player, wishes=Wishes(ornaments={"n5": OrnamentKind.CUT})
    )
    assert cut["effort_change"] == pytest.approx(anew.effort - plain.effort)
    view = choose(app, view, do="ornament", note="n5", kind="cut").json()
    assert 'data-note="n5o1"' in "".join(view["sheet"]["systems"])
    again = app.get(f"/tunes/{tune}/notes/n5").json()["ornaments"]
    assert [each["kind"] for each in again if each["chosen"]] == ["cut"]
    view = choose(app, view, do="ornament", note="n5", kind="none").json()
    assert "n5o1" not in "".join(view["sheet"]["systems"])


def test_what_cannot_be_played_is_not_offered(client: Asked) -> None:
    app, house = client
    # A dotted note under a tie: the second one only holds on.
    tune = house.shelve("X:1\nT:Held\nM:4/4\nL:1/4\nK:C\nC4-|C4|G,4|]\n").id
    choose(app, view_of(app, tune), do="set", settings={"harp": "C", "octaves": 0})
    held = app.get(f"/tunes/{tune}/notes/n2").json()
    assert all(not each["possible"] and each["why"] for each in held["ornaments"])
    first = app.get(f"/tunes/{tune}/notes/n1").json()
    # No hole lies below hole 1, so a roll has to do without its tap, and says so.
    roll = next(each for each in first["ornaments"] if each["kind"] == "long roll")
    assert roll["why"]
    assert not first["breath"]["possible"]
    assert "tie" in first["breath"]["why"]


def test_breaths_are_wished_for_and_ruled_out(client: Asked) -> None:
    app, house = client
    tune = house.shelve().id
    view = view_of(app, tune)
    view = choose(app, view, do="breathe", note="n7", breathe=True).json()
    breath = app.get(f"/tunes/{tune}/notes/n7").json()["breath"]
    assert (breath["now"], breath["wish"]) == (True, True)
    view = choose(app, view, do="breathe", note="n7", breathe=False).json()
    breath = app.get(f"/tunes/{tune}/notes/n7").json()["breath"]
    assert (breath["now"], breath["wish"]) == (False, False)
    choose(app, view, do="clear", note="n7")
    assert app.get(f"/tunes/{tune}/notes/n7").json()["breath"]["wish"] is None


def test_the_first_choice_of_a_note_names_the_harp_and_says_so(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    assert (view["harp"], view["harp_name"]) == ("", "G harp")
    view = choose(app, view, do="breathe", note="n7", breathe=True).json()
    assert view["harp"] == "G"
    assert "G harp is chosen" in view["said"][0]
    view = choose(app, view, do="set", settings={"harp": ""}).json()
    assert (view["harp"], view["harp_name"]) == ("", "G harp")


def test_settings_of_the_whole_tune_are_kept_and_taken_back(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    wanted = {
        "player": "first-year",
        "amount": "as written",
        "second_time": True,
        "semitones": 2,
        "balance": 1.5,
        "harp": "A",
    }
    changed = choose(app, view, do="set", settings=wanted).json()
    for name, value in wanted.items():
        assert changed[name] == value
    ids = [note["id"] for note in changed["notes"]]
    assert "n1t2" in ids
    assert len(set(re.findall(r'data-note="(n\d+t2)"', "".join(changed["sheet"]["systems"])))) > 20
    # One time of two is chosen for.
    second = choose(app, changed, do="ornament", note="n1t2", kind="tap").json()
    systems = "".join(second["sheet"]["systems"])
    assert 'data-note="n1t2o1"' in systems
    assert 'data-note="n1o1"' not in systems
    back = choose(app, second, do="set", settings=dict.fromkeys(wanted)).json()
    for name in wanted:
        assert back[name] == view[name]


def test_no_file_is_read_for_a_harp_or_a_player_that_a_client_names(
    client: Asked, tmp_path: Path
) -> None:
    app, house = client
    view = view_of(app, house.shelve().id)
    tuning, player = tmp_path / "own.toml", tmp_path / "someone.toml"
    # Both could be used: a person at the command line may name them so.
    tuning.write_text((Path(harp_files.__file__).parent / "data/richter.toml").read_text())
    player.write_text('title = "Someone"\nbase = "player"\n')
    assert Session(kettle(), TuneChoices()).with_settings(harp=f"C:{tuning}", player=str(player))
    for settings in (
        {"harp": f"C:{tuning}"},
        {"harp": f"C: {tuning} :half"},
        {"harp": f"C:{tmp_path}/../{tmp_path.name}/own.toml"},
        {"player": str(player)},
    ):
        answer = choose(app, view, do="set", settings=settings)
        assert answer.status_code == 422
        assert re.search("not by a file|no player", answer.json()["message"])


def test_another_harp_brings_the_octave_that_it_has_unless_one_is_asked_for(
    client: Asked,
) -> None:
    app, house = client
    # An ordinary G harp begins at G3 (common practice); this is an octave below it.
    low = house.shelve("X:1\nT:Deep\nM:4/4\nL:1/4\nK:G\nG,,B,,D,G,|\n").id
    view = choose(app, view_of(app, low), do="set", settings={"harp": "G"}).json()
    assert view["octaves"] == 1
    assert all(note["way"] for note in view["notes"])
    view = choose(app, view, do="set", settings={"harp": "G", "octaves": 0}).json()
    assert view["octaves"] == 0
    assert "The tune is where it is written." in view["said"]
    assert view["notes"][0]["way"] == ""
    assert view["notes"][0]["tab"] == "×"


def test_a_fingering_of_bars_is_taken_as_a_whole(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve(HIGH).id)
    view = choose(app, view, do="set", settings={"harp": "C"}).json()
    taken = choose(app, view, do="take-fingering", bars=[1], fingering=2).json()
    assert taken["undo_says"] == "fingering 2 taken"
    assert [note["way"] for note in taken["notes"][:4]] != [n["way"] for n in view["notes"][:4]]
    assert choose(app, taken, do="take-fingering", bars=[99], fingering=1).status_code == 422


def test_a_choice_whose_note_is_gone_is_told_and_kept(client: Asked) -> None:
    app, house = client
    view = view_of(app, house.shelve(HIGH).id)
    view = choose(app, view, do="ornament", note="n8", kind="cut").json()
    said = write(app, view, HIGH.replace("G4|]", "A4|]")).json()["said"]
    assert len(said) == 1
    assert "It is kept, and not honoured" in said[0]
    assert "--" not in said[0]
    assert view_of(app, view["tune"])["notices"] == said


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
