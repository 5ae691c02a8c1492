"""What the shelf keeps of a tune, gone back to in the browser; settings; copies of all of it."""

from __future__ import annotations

import sqlite3
import zipfile
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from furnished import FERRY
from webhouse import KETTLE, House

from reedwright.shelf.belongings.arrangements import keep_choices
from reedwright.shelf.belongings.files import keep_take
from reedwright.shelf.belongings.lists import keep_list
from reedwright.shelf.facts.tunes import revise_tune
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.likenesses.deciding import settings_of
from reedwright.shelf.likenesses.finding_out import find_likenesses
from reedwright.tab.choices.model import TuneChoices
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.web.book.kept import new_book
from reedwright.web.shelf.keeping import changed_lines
from reedwright.web.shelf.saving import Saving, back_up_work, check_work, export_work

Asked = tuple[TestClient, House]
TEXTS = [KETTLE, KETTLE.replace("G2BG", "G2Bd", 1), KETTLE.replace("Landing", "Hob")]


@pytest.fixture
def changed(client: Asked) -> Asked:
    """A tune in three states, the last one its present one."""
    item = client[1].shelve(TEXTS[0])
    with open_shelf(client[1].settings.shelf) as shelf:
        for text in TEXTS[1:]:
            (tune,) = read_abc(text)
            assert isinstance(tune, Tune)
            revise_tune(shelf, item.id, tune, said=f"now {len(text)} letters")
    return client


def _text(house: House, item: int = 1) -> str:
    with open_shelf(house.settings.shelf) as shelf:
        return shelf.item(item).state.text


def _do(asked: Asked, what: str, tune: int = 1, **fields: object) -> int:
    sent = {"item": tune} | fields
    return asked[0].post(f"/shelf/{tune}/{what}", data=sent, follow_redirects=False).status_code


def test_any_state_is_gone_back_to_and_search_follows(changed: Asked) -> None:
    asker, house = changed
    assert _do(changed, "undo") == 303
    assert _text(house) == TEXTS[1]
    assert _do(changed, "undo") == 303
    assert _text(house) == TEXTS[0]
    assert _do(changed, "undo") == 422  # there is nothing before
    assert _do(changed, "redo") == 303
    assert _text(house) == TEXTS[1]
    assert _do(changed, "go-to", state=3) == 303
    assert _text(house) == TEXTS[2]
    assert 'href="/tunes/1"' in asker.get("/shelf/found?words=hob").text
    assert _do(changed, "go-to", state=9) == 404
    assert _do(changed, "go-to", state=2**60) == 422


def test_a_state_tells_what_changed(changed: Asked) -> None:
    html = changed[0].get("/shelf/1").text
    assert "- |:G2BG dGBG|" in html
    assert "+ |:G2Bd dGBG|" in html
    assert "as it is now" in html
    assert html.count("Go to this") == 2


def test_lines_that_changed_are_told_in_their_order_and_no_others() -> None:
    assert changed_lines("a\nb\nc", "a\nx\nc\nd") == (("- b", "+ x", "+ d"), 0)
    assert changed_lines("G2BG dGBG", "G2BG dGBd") == (("- G2BG dGBG", "+ G2BG dGBd"), 0)
    assert changed_lines(KETTLE, KETTLE) == ((), 0)
    long = "\n".join(map(str, range(200)))
    lines, more = changed_lines("", long)
    assert (len(lines), more) == (60, 140)


def test_what_belongs_to_a_tune_is_shown_taken_off_and_put_back(
    changed: Asked, tmp_path: Path
) -> None:
    asker, house = changed
    other = house.shelve(FERRY)
    recording = tmp_path / "evening & <b>take.wav"
    recording.write_bytes(b"RIFF")
    with open_shelf(house.settings.shelf) as shelf:
        take = keep_take(shelf, 1, recording)
        kept = keep_choices(shelf, 1, TuneChoices("x", "1", harp="G"), said="on the G harp")
        keep_choices(shelf, 1, TuneChoices("x", "1", harp="D"), said="on the D harp")
    html = asker.get("/shelf/1").text
    assert "on the G harp" in html
    assert "evening &amp; &lt;b&gt;take" in html
    assert _do(changed, "undo", item=kept.id) == 303
    assert 'harp = "G"' in _text(house, kept.id)
    assert _do(changed, "remove", item=take.id) == 303
    assert "Put back" in asker.get("/shelf/1").text
    assert _do(changed, "put-back", item=take.id) == 303
    assert "Put back" not in asker.get("/shelf/1").text
    assert _do(changed, "remove", item=other.id) == 404  # belongs to no tune but itself
    assert _do(changed, "undo", tune=take.id) == 404  # is no tune


def test_a_tune_is_taken_off_and_put_back_with_all_its_states(changed: Asked) -> None:
    asker, house = changed
    assert _do(changed, "remove") == 303
    assert "It is off the shelf, and kept." in asker.get("/shelf/1").text
    assert "0 tunes" in asker.get("/shelf").text
    assert "The Kettle on the Hob" in asker.get("/shelf/removed").text
    assert asker.post("/shelf/removed/1/put-back", follow_redirects=False).status_code == 303
    assert "The Kettle on the Hob" in asker.get("/shelf").text
    with open_shelf(house.settings.shelf) as shelf:
        assert [state.text for state in shelf.states(1)] == TEXTS


def test_settings_of_one_tune_are_judged_and_the_verdict_taken_back(client: Asked) -> None:
    asker, house = client
    house.shelve(KETTLE)
    # The same tune under another name, with one note changed.
    house.shelve(KETTLE.replace("Kettle", "Pot").replace("G2BG", "G2Bd", 1))
    with open_shelf(house.settings.shelf) as shelf:
        find_likenesses(shelf)
        assert not settings_of(shelf, 1)
    assert "The same tune" in asker.get("/shelf/1").text
    assert "The Pot on the Landing" in asker.get("/shelf/settings").text
    judge = {"other": 2, "same": "true"}
    assert asker.post("/shelf/1/settings", data=judge, follow_redirects=False).status_code == 303
    with open_shelf(house.settings.shelf) as shelf:
        assert settings_of(shelf, 1) == (2,)
    assert asker.post("/shelf/settings/take-back", follow_redirects=False).status_code == 303
    with open_shelf(house.settings.shelf) as shelf:
        assert settings_of(shelf, 1) == ()
    refused = {"other": 2, "same": "false", "from_all": "true"}
    answer = asker.post("/shelf/1/settings", data=refused, follow_redirects=False)
    assert answer.headers["location"] == "/shelf/settings"
    assert "No tunes of the shelf are offered" in asker.get("/shelf/settings").text
    nothing = asker.post("/shelf/1/settings", data={"other": 1, "same": "true"})
    assert nothing.status_code == 422


def _saving(house: House) -> Saving:
    return Saving(house.settings.shelf, house.settings.made)


def test_a_backup_is_a_shelf_in_a_folder_and_in_one_file(changed: Asked, tmp_path: Path) -> None:
    outcome = back_up_work(_saving(changed[1]), lambda share, doing: None)
    (file,) = outcome.files.values()
    assert outcome.folder is not None and outcome.folder.parent == changed[1].settings.made
    with zipfile.ZipFile(file) as archive:
        archive.extractall(tmp_path / "out")
    (copy,) = (tmp_path / "out").rglob("shelf.sqlite")
    with sqlite3.connect(copy) as db:  # SQLite itself, without our own reader
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        texts = [row[0] for row in db.execute("SELECT text FROM state ORDER BY number")]
    assert texts == TEXTS
    again = back_up_work(_saving(changed[1]), lambda share, doing: None)
    assert again.folder != outcome.folder  # nothing is written over


def test_plain_files_hold_the_tune_to_the_letter(changed: Asked) -> None:
    outcome = export_work(_saving(changed[1]), lambda share, doing: None)
    (file,) = outcome.files.values()
    with zipfile.ZipFile(file) as archive:
        tunes = [
            archive.read(name).decode() for name in archive.namelist() if name.endswith(".abc")
        ]
    assert TEXTS[2] in tunes


def test_a_check_says_that_all_is_whole_or_what_is_not(changed: Asked) -> None:
    house = changed[1]
    assert check_work(_saving(house), lambda share, doing: None).facts == {"whole": True}
    with open_shelf(house.settings.shelf) as shelf:
        shelf.attachments.add_sized(b"something")
        path = next(p for p in shelf.attachments.folder.rglob("*") if p.is_file())
        shelf.add(shelf.item(1).kind, "x", shelf.item(1).state.form, attachment=b"something")
    path.chmod(0o600)
    path.write_bytes(b"anything")
    told = check_work(_saving(house), lambda share, doing: None)
    assert told.facts == {"whole": False}
    assert told.notices


def test_the_page_for_copies_counts_what_there_is(changed: Asked) -> None:
    assert "The shelf holds 1 tune." in changed[0].get("/shelf/safety").text


def test_books_and_sets_are_linked_to_where_they_are(changed: Asked) -> None:
    asker, house = changed
    with open_shelf(house.settings.shelf) as shelf:
        book = new_book(shelf, "Winter Tunes", [1]).id
        evening = keep_list(shelf, "Saturday", [shelf.item(1)]).id
        shelf.remove(book)
    back = asker.post(f"/shelf/removed/{book}/put-back")
    assert (back.url.path, back.status_code) == (f"/books/{book}", 200)
    kept, first = asker.get("/shelf/1").text, asker.get("/").text
    assert f'"/books/{book}"' in kept and f'"/sets/{evening}"' in kept
    assert f'"/sets/{evening}"' in first and "Winter Tunes" not in first
    tuning = asker.get("/bench/tuning").text
    assert "Saturday" in tuning and "Winter Tunes" not in tuning
