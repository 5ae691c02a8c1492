"""Choosing for a tune through the web app: ways, ornaments, breaths, settings, and their price."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from tuneroutes import Asked, choose, kettle, view_of, write

from reedwright.harp import tunings as harp_files
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.tab.arrange import arrange
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.choices.session import Session
from reedwright.tab.ornaments.model import OrnamentKind
from reedwright.tab.wishes import Wishes
from reedwright.web.music.standing import stand

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
