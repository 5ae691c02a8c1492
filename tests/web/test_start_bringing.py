"""Tunes brought in through the browser: what comes in, what is told, and what never happens."""

from __future__ import annotations

import io
import json
import os
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from hypothesis import given, settings
from hypothesis import strategies as st
from webhouse import KETTLE, House

from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.model import Kind
from reedwright.tune.abc import read_abc
from reedwright.web.jobs.keeping import Jobs
from reedwright.web.jobs.model import Job, Outcome
from reedwright.web.start.empty import empty_tune
from reedwright.web.start.taking_in import TakingIn, take_in
from reedwright.web.start.uploads import Sent, as_sent, cleared, laid_down, left_behind

Asked = tuple[TestClient, House]

BROKEN = "X:2\nT:Unclosed\nM:4/4\nL:1/8\nK:G\nG2B[[G dGBg|\n"


def _taken(house: House, update: bool = False, **files: bytes) -> Outcome:
    """As the job does it, in this process. A file's name has `__` for a dot."""
    shelf = house.settings.shelf
    sent = [Sent(name.replace("__", "."), io.BytesIO(each)) for name, each in files.items()]
    names = laid_down(shelf, sent)
    outcome = take_in(TakingIn(shelf, names, update, workers=1), lambda share, doing: None)
    assert not [path for path in (shelf / "incoming").rglob("*") if path.is_file()]
    return outcome


def _titles(house: House) -> list[str]:
    with open_shelf(house.settings.shelf) as shelf:
        return [item.name for item in shelf.items(Kind.TUNE)]


names = st.text(st.characters(exclude_categories=["Cs"]), max_size=40) | st.sampled_from(
    [
        "../../etc/passwd",
        "C:\\x\\..\\y.abc",
        "/elsewhere/a.abc",
        "a/../../b.mid",
        "..",
        "CON.abc",
        "\0.abc",
    ]
)


@given(st.lists(names, min_size=1, max_size=4))
@settings(max_examples=60, deadline=None)
def test_whatever_a_file_is_called_it_lies_in_its_folder_and_is_gone_afterwards(
    tmp_path_factory: pytest.TempPathFactory, called: list[str]
) -> None:
    shelf = tmp_path_factory.mktemp("shelf") / "inner" / "shelf"
    places = laid_down(shelf, [Sent(name, io.BytesIO(b"X:1\n")) for name in called])
    everything = {path for path in shelf.parent.parent.rglob("*") if path.is_file()}
    assert everything == set(map(Path, places))
    for place, shown in places.items():
        assert Path(place).parent.parent == (shelf / "incoming").resolve()
        assert Path(place).name.isascii()
        assert as_sent(f"{place}/within", places) == f"{shown}/within"
        assert shown.isprintable()
    cleared(places)
    assert not [path for path in shelf.parent.parent.rglob("*") if path.is_file()]


def test_of_a_folder_what_is_hidden_and_what_has_no_tunes_is_passed_over(client: Asked) -> None:
    files = ["book/a.abc", "book/.hidden.abc", "__MACOSX/a.abc", "book/photo.png", "alone.png"]
    found = laid_down(client[1].settings.shelf, [Sent(name, io.BytesIO(b"")) for name in files])
    assert sorted(found.values()) == ["alone.png", "book/a.abc"]


def test_what_a_killed_program_left_behind_is_found_after_a_day(client: Asked) -> None:
    shelf = client[1].settings.shelf
    assert left_behind(shelf) == []
    (old,) = laid_down(shelf, [Sent("old.abc", io.BytesIO(b"X:1"))])
    laid_down(shelf, [Sent("new.abc", io.BytesIO(b"X:1"))])
    os.utime(old, (0, 0))
    assert [Path(each).resolve() for each in left_behind(shelf)] == [Path(old)]


def test_a_file_that_changed_since_is_told_and_taken_over_where_that_is_asked(
    client: Asked,
) -> None:
    house = client[1]
    first = KETTLE.encode()
    second = KETTLE.replace("G2BG dGBG", "G2BG dGBd").encode()
    assert _taken(house, book__abc=first).facts["added"] == 1
    assert _taken(house, book__abc=first).facts["same"] == 1
    told = _taken(house, book__abc=second).facts
    assert (told["added"], told["changed"]) == (0, 1)
    assert told["changed_told"][0]["file"] == "book.abc"
    assert _taken(house, True, book__abc=second).facts["updated"] == 1
    with open_shelf(house.settings.shelf) as shelf:
        assert [state.number for state in shelf.states(1)] == [1, 2]
        assert shelf.item(1).state.text == second.decode()


def test_what_cannot_be_read_is_told_by_the_name_it_was_sent_with_and_its_place(
    client: Asked,
) -> None:
    house = client[1]
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("../../out.abc", KETTLE.replace("Kettle", "Lamp"))
        archive.writestr("bad.abc", BROKEN)
    outcome = _taken(house, some__zip=packed.getvalue(), notes__pdf=b"%PDF-1.7")
    facts = outcome.facts
    assert _titles(house) == ["The Lamp on the Landing"]
    assert sorted(each["file"] for each in facts["refused_told"]) == [
        "notes.pdf",
        "some.zip/bad.abc",
    ]
    bad = next(each for each in facts["refused_told"] if "bad" in each["file"])
    assert (bad["line"], bad["column"]) == (6, 4)  # of BROKEN, counted by hand
    (report,) = outcome.files.values()
    text = report.read_text(encoding="utf-8")
    assert "some.zip/bad.abc, line 6, column 4" in text
    assert str(house.settings.shelf) not in text + json.dumps(facts)
    assert outcome.passing == report.parent


def test_a_zip_that_would_fill_the_memory_is_not_unpacked(client: Asked) -> None:
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
        archive.writestr("a.abc", b"X:1\n" + b"\0" * 5_000_000)
    facts = _taken(client[1], bomb__zip=bomb.getvalue()).facts
    assert (facts["added"], facts["refused"]) == (0, 1)


def test_what_is_pasted_comes_in_as_far_as_it_can_be_read(client: Asked) -> None:
    asker, house = client
    told = asker.post("/paste", json={"text": KETTLE + "\n" + BROKEN}).json()
    assert told["go"] == ""
    assert _titles(house) == ["The Kettle on the Landing"]
    (refused,) = told["facts"]["refused_told"]
    # KETTLE has eight lines, then an empty one; the chord is in BROKEN's sixth line at its fourth.
    assert (refused["line"], refused["column"]) == (8 + 1 + 6, 4)
    assert told["facts"]["tunes"] == [{"id": 1, "title": "The Kettle on the Landing"}]
    again = asker.post("/paste", json={"text": KETTLE}).json()
    assert (again["facts"]["added"], again["facts"]["same"]) == (0, 1)


def test_one_tune_that_is_pasted_is_gone_to(client: Asked) -> None:
    told = client[0].post("/paste", json={"text": KETTLE.replace("\n", "\r\n")}).json()
    assert told["go"] == "/tunes/1"


def test_pasted_tunes_without_a_title_are_called_untitled(client: Asked) -> None:
    for key in ("D", "A"):
        client[0].post("/paste", json={"text": f"X:1\nM:6/8\nL:1/8\nK:{key}\ndfa afd|gfe d3|\n"})
    assert _titles(client[1]) == ["untitled", "untitled"]


@pytest.mark.parametrize(
    "body", [b'{"text": "\\ud800"}', b'{"text": ""}', b'{"text": 7}', b"{", b'{"text": "hello"}']
)
def test_what_is_no_text_is_refused_or_told(client: Asked, body: bytes) -> None:
    answer = client[0].post("/paste", content=body, headers={"content-type": "application/json"})
    assert answer.status_code in (200, 422)
    if answer.status_code == 200:
        assert not answer.json()["facts"]["added"]
    assert _titles(client[1]) == []


def test_one_import_ends_before_the_next_begins(
    client: Asked, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun: list[Job] = []

    def begin(jobs: Jobs, kind: str, title: str, page: str, *_: object) -> Job:
        begun.append(Job("name", kind, title, page, datetime.now(UTC)))
        return begun[-1]

    monkeypatch.setattr(Jobs, "begin", begin)
    monkeypatch.setattr(Jobs, "all", lambda jobs, kind="", page="": begun)
    send = {"files": ("a.abc", KETTLE.encode())}
    plain = {"accept": "application/json"}
    first = client[0].post("/import", files=send, headers=plain)
    assert first.status_code == 200
    assert client[0].get(first.json()["go"]).status_code == 200
    second = client[0].post("/import", files=send, headers=plain)
    assert second.status_code == 422
    assert "being added already" in second.json()["message"]
    assert len(begun) == 1
    begun.clear()


@pytest.mark.parametrize("files", [{}, {"files": ("", b"")}, {"other": ("a.abc", b"X:1")}])
def test_no_file_is_told(client: Asked, files: dict[str, tuple[str, bytes]]) -> None:
    answer = client[0].post("/import", files=files, headers={"accept": "application/json"})
    assert answer.status_code == 422
    assert client[0].get("/brought-in?key=nothing").status_code == 404


@given(st.text(max_size=30), st.text(max_size=10))
@settings(max_examples=80, deadline=None)
def test_an_empty_tune_has_the_title_that_was_typed_and_nothing_else_of_it(
    title: str, type_: str
) -> None:
    tune = empty_tune(title, type_, "D", "6/8")
    assert tune.key.name == "D major"
    assert (tune.meter.beats, tune.meter.unit) in {((6,), 8), ((3, 3), 8)}
    assert len(read_abc(tune.text)) == 1
    assert [field.code for field in tune.fields if field.code in "XTRMLK"].count("T") == 1
    plain = " ".join(title.split())
    if plain.isascii() and plain.replace(" ", "").isalnum():
        assert tune.title == plain


@pytest.mark.parametrize(
    ("typed", "title"),
    [("A\nX:2\nT:B\nK:C", "A X:2 T:B K:C"), ("50% off", "50% off"), ("", "Untitled")],
)
def test_a_title_stays_a_title(typed: str, title: str) -> None:
    tune = empty_tune(typed, "reel", "G", "4/4")
    assert tune.titles == (title,)
    assert tune.key.name == "G major"


@pytest.mark.parametrize("wrong", [{"metre": "7/q"}, {"key": "\nX:2"}, {"title": "x" * 201}])
def test_what_no_tune_can_begin_with_is_told(client: Asked, wrong: dict[str, str]) -> None:
    fields = {"title": "A", "type": "jig", "key": "G", "metre": "6/8"} | wrong
    answer = client[0].post("/new-tune", data=fields, follow_redirects=False)
    assert answer.status_code in (303, 422)
    if answer.status_code == 303:
        assert len(_titles(client[1])) == 1
    else:
        assert _titles(client[1]) == []
