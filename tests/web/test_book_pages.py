"""Books in the browser: plans kept on the shelf, previewed, made; the same as by the command."""

from __future__ import annotations

import io
import json
import re
import shutil
import tomllib
import zipfile
from pathlib import Path
from typing import Any

import pypdf
import pytest
from fastapi.testclient import TestClient
from furnished import FERRY
from hypothesis import given, settings
from hypothesis import strategies as st
from test_jobs_told import over
from test_pack_page import picture
from webhouse import KETTLE, House

import reedwright.harp
import reedwright.player
from reedwright.harp.making import parse_harp
from reedwright.pack.book.asking import read_asked
from reedwright.pack.book.making import make_book
from reedwright.player.loading import load_profile
from reedwright.shelf.belongings.harps import keep_harp
from reedwright.shelf.belongings.lists import keep_list
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.web.book.asked import BookAsked, ChapterPart, TunePart
from reedwright.web.book.kept import book_on, owned_texts
from reedwright.web.book.planfile import as_file, plan_text, read_back
from reedwright.web.book.planning import planned

Client = tuple[TestClient, House]


@pytest.fixture(autouse=True)
def stock(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("REEDWRIGHT_STOCK", str(tmp_path_factory.getbasetemp() / "web-stock"))


def begun(browser: TestClient, title: str = "Winter Tunes", **asked: object) -> int:
    answer = browser.post(
        "/books", data={"title": title, "source": "all"} | asked, follow_redirects=False
    )
    assert answer.status_code == 303, answer.text
    return int(answer.headers["location"].rpartition("/")[2])


def kept(browser: TestClient, book: int) -> dict[str, Any]:
    found: dict[str, Any] = browser.get(f"/books/{book}/kept").json()
    return found


def saved(browser: TestClient, book: int, **changes: object) -> dict[str, Any]:
    now = kept(browser, book)
    asked = {"book": now["book"] | changes, "made_from": now["state"]}
    answer = browser.post(f"/books/{book}/plan", json=asked)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def step(browser: TestClient, book: int, way: str) -> dict[str, Any]:
    asked = {"made_from": kept(browser, book)["state"]}
    found: dict[str, Any] = browser.post(f"/books/{book}/{way}", json=asked).json()
    return found


def done(browser: TestClient, path: str, asked: object = None) -> dict[str, Any]:
    answer = browser.post(path, json=asked)
    assert answer.status_code == 200, answer.text
    desk = browser.app.state.desk  # type: ignore[attr-defined]
    job = over(browser, desk.jobs.job(answer.json()["name"]))
    found: dict[str, Any] = browser.get(f"/jobs/{job.name}").json()
    assert found["standing"] == "done", found
    return found


def test_a_book_begins_with_the_tunes_of_its_source(client: Client) -> None:
    browser, house = client
    kettle, ferry = house.shelve(KETTLE), house.shelve(FERRY)
    with open_shelf(house.settings.shelf) as shelf:
        evening = keep_list(shelf, "Saturday", [ferry, kettle])

    def tunes(**asked: object) -> list[int]:
        parts = kept(browser, begun(browser, **asked))["book"]["parts"]  # type: ignore[arg-type]
        return [part["tune"] for part in parts]

    assert tunes() == [kettle.id, ferry.id]
    assert tunes(source=str(evening.id)) == [ferry.id, kettle.id]
    assert tunes(source="search", words="ferry") == [ferry.id]
    assert tunes(source="none") == []
    page = browser.get("/books").text
    assert page.count(">Winter Tunes") == 4 and "Winter Tunes (4)" in page
    assert "list: Saturday" in page and "list: Winter Tunes" not in page
    assert browser.post("/books", data={"title": " \t "}).status_code == 422
    assert browser.post("/books", data={"title": "A", "source": str(kettle.id)}).status_code == 422
    assert browser.get(f"/books/{evening.id}").status_code == 404  # a list is no book
    found = browser.get("/books/find", params={"words": "kettle"}).json()
    assert [each["id"] for each in found["tunes"]] == [kettle.id]


def test_every_change_is_a_state_that_can_be_undone_and_nobodys_is_lost(client: Client) -> None:
    browser, house = client
    kettle, ferry = house.shelve(KETTLE), house.shelve(FERRY)
    book = begun(browser)
    first = kept(browser, book)
    assert not first["undo"] and not first["redo"]
    turned = saved(browser, book, title="Other", parts=first["book"]["parts"][::-1])
    assert [part["tune"] for part in turned["book"]["parts"]] == [ferry.id, kettle.id]
    assert (turned["name"], turned["undo"], turned["redo"]) == ("Other", True, False)
    with open_shelf(house.settings.shelf) as shelf:
        assert [link.to for link in shelf.links(book)] == [ferry.id, kettle.id]
    for stale in ("undo", "redo"):  # of a tab that has the first state
        answer = browser.post(f"/books/{book}/{stale}", json={"made_from": first["state"]})
        assert (answer.status_code, answer.json()["kind"]) == (409, "changed-meanwhile")
    again = step(browser, book, "undo")
    with open_shelf(house.settings.shelf) as shelf:
        assert [link.to for link in shelf.links(book)] == [kettle.id, ferry.id]
    assert again["book"] == first["book"] and again["name"] == "Winter Tunes"
    assert (again["undo"], again["redo"]) == (False, True)
    assert step(browser, book, "redo")["book"] == turned["book"]

    # Two tabs: the second one's change is refused, and can be made from what is there.
    late = {"book": first["book"] | {"maker": "Ada Fenwick"}, "made_from": first["state"]}
    answer = browser.post(f"/books/{book}/plan", json=late)
    assert (answer.status_code, answer.json()["kind"]) == (409, "changed-meanwhile")
    now = saved(browser, book, maker="Ada Fenwick")
    assert (now["book"]["maker"], now["book"]["title"]) == ("Ada Fenwick", "Other")

    browser.post(f"/books/{book}/remove")
    assert ">Other<" not in browser.get("/books").text
    page = browser.get(f"/books/{book}").text
    assert "It is off the shelf, and kept." in page and "book-form" not in page
    late = {"book": now["book"], "made_from": now["state"]}
    answer = browser.post(f"/books/{book}/plan", json=late | {"book": first["book"]})
    assert answer.status_code == 422 and "off the shelf" in answer.json()["message"]
    browser.post(f"/books/{book}/put-back")
    assert ">Other<" in browser.get("/books").text


def test_a_book_that_was_not_taken_is_a_state_beside_the_present_one(client: Client) -> None:
    """As the page says where two windows changed one book."""
    browser, house = client
    house.shelve()
    book = begun(browser)
    first = kept(browser, book)
    ours = {"book": first["book"] | {"maker": "Ada Fenwick"}, "made_from": first["state"]}
    assert browser.post(f"/books/{book}/plan", json=ours).status_code == 200
    mine = {"book": first["book"] | {"maker": "Bo Latch"}, "made_from": first["state"]}
    assert browser.post(f"/books/{book}/plan", json=mine).status_code == 409
    answer = browser.post(f"/books/{book}/plan", json=mine | {"keep_both": True})
    assert answer.json()["book"]["maker"] == "Ada Fenwick"
    with open_shelf(house.settings.shelf) as shelf:
        texts = [state.text for state in shelf.states(book)]
    assert any("Bo Latch" in text for text in texts)
    assert kept(browser, book)["book"]["maker"] == "Ada Fenwick"


lines = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), max_size=12)
words = st.lists(lines.filter(bool), min_size=1, max_size=3).map(" ".join)
maybe = words | st.just("")
tune_parts = st.builds(
    TunePart,
    kind=st.just("tune"),
    tune=st.integers(1, 2**53),
    harp=st.sampled_from(["", "G", "low D", "A:richter-raised-3-blow"]),
    words=maybe,
    sold=st.booleans(),
)
chapter_parts = st.builds(ChapterPart, kind=st.just("chapter"), title=words, words=maybe)


@settings(max_examples=25, deadline=None)
@given(
    title=words,
    maker=maybe,
    preface=st.lists(words, max_size=3),
    imprint=st.lists(words, max_size=3),
    chapters=st.booleans(),
    parts=st.lists(tune_parts, max_size=4),
    more=st.lists(chapter_parts, max_size=2),
    harps=st.sampled_from(["", "all", "named", "fewest"]),
    amount=st.sampled_from(["", "none", "written", "full"]),
    bleed=st.sampled_from([0.0, 3.0, 2.5]),
    second=st.booleans(),
)
def test_a_plan_says_all_that_its_page_says(
    title: str,
    maker: str,
    preface: list[str],
    imprint: list[str],
    chapters: bool,
    parts: list[TunePart],
    more: list[ChapterPart],
    harps: str,
    amount: str,
    bleed: float,
    second: bool,
) -> None:
    """Written as the plan that the command reads, and read back by that reader."""
    all_parts: list[Any] = []
    for place, chapter in enumerate(more if chapters else []):
        all_parts += [chapter, *parts[place : place + 1]]
    asked = BookAsked.model_validate(
        {
            "title": title,
            "maker": maker,
            "preface": "\n\n".join(preface),
            "imprint": "\n".join(imprint),
            "parts": all_parts or parts,
            "harps": harps,
            "named_harps": ["C", "G:richter:half"] if harps == "named" else [],
            "amount": amount,
            "second_time": second,
            "look": {"bleed": bleed, "paper": "a5", "tab_style": "rows", "links": "none"},
        }
    )
    text = plan_text(asked, ())
    tomllib.loads(text)
    assert read_back(text, ()) == asked
    with as_file(text) as path:
        plan = read_asked(path)
    assert plan.title == title and plan.look.bleed == bleed and plan.preface == tuple(preface)


def test_tunes_before_the_first_chapter_are_a_chapter_too() -> None:
    parts = [{"kind": "tune", "tune": 1}, {"kind": "chapter", "title": ""}]
    asked = BookAsked.model_validate({"title": "A", "parts": [*parts, {"kind": "tune", "tune": 2}]})
    with as_file(plan_text(asked, ())) as path:
        chapters = read_asked(path).chapters
    assert [(each.title, [tune.tune for tune in each.tunes or ()]) for each in chapters] == [
        ("Tunes", ["shelf:1"]),
        ("Chapter", ["shelf:2"]),
    ]


def test_what_a_plan_could_reach_is_on_the_shelf_alone(client: Client, tmp_path: Path) -> None:
    browser, house = client
    house.shelve()
    tuning, profile = tmp_path / "tuning.toml", tmp_path / "own.toml"  # that could be read
    shutil.copyfile(Path(reedwright.harp.__file__).parent / "data/richter.toml", tuning)
    shutil.copyfile(Path(reedwright.player.__file__).parent / "data/player.toml", profile)
    assert parse_harp(f"G:{tuning}").key == "G" and load_profile(profile)
    book = begun(browser)
    now = kept(browser, book)
    wrong: list[dict[str, object]] = [
        {"player": "../own.toml"},
        {"player": str(profile)},
        {"named_harps": [f"G:{tuning}"], "harps": "named"},
        {"base_address": "javascript:alert(1)"},
        {"title": "  "},
        {"parts": [{"kind": "tune", "tune": 10**30}]},
        {"parts": [{"kind": "file", "file": "/etc/passwd"}]},
        {"parts": [{"kind": "tune", "tune": 1, "harp": "../G"}]},
        {"look": {"bleed": 99}},
        {"preface": "x" * 20001},
    ]
    for changes in wrong:
        asked = {"book": now["book"] | changes, "made_from": now["state"]}
        assert browser.post(f"/books/{book}/plan", json=asked).status_code == 422, changes
        assert browser.post(f"/books/{book}/preview", json=asked).status_code == 422, changes
    for changes in ({"player": "nobody"}, {"named_harps": ["H"], "harps": "named"}):
        answer = browser.post(f"/books/{book}/preview", json={"book": now["book"] | changes})
        assert answer.status_code == 422
        assert "reedwright-book-" not in answer.json()["message"]
    # What would be another key of the plan is a text in it.
    title = 'A"\nsources = ["/etc"]\n[look]\n<script>alert(1)</script>'
    page = browser.get(f"/books/{begun(browser, title)}").text
    assert "<script>alert" not in page
    plan = browser.get(f"/books/{begun(browser, title)}/plan.toml").text
    assert "sources" not in tomllib.loads(plan)


def test_pages_are_shown_as_the_book_will_have_them(client: Client) -> None:
    browser, house = client
    kettle, ferry = house.shelve(KETTLE), house.shelve(FERRY)
    book = begun(browser)
    plan = kept(browser, book)["book"] | {"preface": "One.\n\nTwo.", "order": "title"}

    def drawn(**asked: object) -> dict[str, Any]:
        answer = browser.post(f"/books/{book}/preview", json={"book": plan} | asked)
        assert answer.status_code == 200, answer.text
        found: dict[str, Any] = answer.json()
        return found

    for tune in (kettle, ferry):  # each is engraved as it is asked for
        assert "on the shelf" not in str(drawn(tune=tune.id)["notices"])
    cover = drawn()
    assert (cover["page"], cover["words"]) == (1, f"Page 1 of {cover['pages']}: Cover")
    places = {place["title"]: place["page"] for place in cover["places"]}
    assert {"Title page", "Contents", "Preface", "Index of titles"} <= set(places)
    shown = drawn(tune=ferry.id)
    assert shown["page"] == places["The Ferry at Low Water"]
    assert drawn(at="Contents")["page"] == places["Contents"]
    assert picture(drawn(page=places["Contents"])).tobytes() != picture(cover).tobytes()
    assert picture(cover).width / picture(cover).height == pytest.approx(210 / 297, rel=0.002)
    plan["look"] = plan["look"] | {"paper": "a5", "colour": True}
    a5 = picture(drawn())
    assert a5.width == pytest.approx(picture(cover).width * 148 / 210, abs=1)  # ISO 216

    # Pages and places are those of the PDF.
    with open_shelf(house.settings.shelf) as shelf:
        whole = planned(shelf, BookAsked.model_validate(plan)).plan
    make_book(whole, house.settings.made.parent / "whole.pdf", workers=0)
    pdf = pypdf.PdfReader(house.settings.made.parent / "whole.pdf")
    last = drawn(page=9999)
    assert last["pages"] == last["page"] == len(pdf.pages)
    assert {"Winter", "Tunes"} <= set(pdf.pages[places["Title page"] - 1].extract_text().split())
    for place in last["places"][2:]:
        assert place["title"].split()[0] in pdf.pages[place["page"] - 1].extract_text()
    with open_shelf(house.settings.shelf) as shelf:
        shelf.remove(kettle.id)
    gone = drawn()
    assert any("was taken off the shelf" in notice for notice in gone["notices"])
    assert "reedwright-book-" not in json.dumps(gone["notices"])


def test_a_book_and_its_web_folder_are_made_with_their_report(client: Client) -> None:
    browser, house = client
    house.shelve(KETTLE)
    with open_shelf(house.settings.shelf) as shelf:
        keep_harp(shelf, "the red one", "low G:richter-raised-3-blow")
    book = begun(browser, "Winter / Tunes")
    plan = saved(browser, book, harps="shelf")["book"]
    assert plan["harps"] == "shelf"
    assert browser.post(f"/books/{book}/engrave", json={"book": plan}).json() == {"to_come": 0}
    job = done(browser, f"/books/{book}/make")
    assert job["files"] == ["winter-tunes.pdf"]
    facts = job["facts"]
    assert [each["harp"] for each in facts["harps"]] == ["low G harp, raised 3 blow"]
    assert (
        facts["anew"] == 0
        and len(facts["rights_not_stated"]) == 1
        and str(house.settings.made) not in str(facts)
    )
    whole = browser.get(f"/jobs/{job['name']}/files/winter-tunes.pdf").content
    assert len(pypdf.PdfReader(io.BytesIO(whole)).pages) == facts["pages"]
    # The plan that is downloaded makes the same at the command line, to the byte.
    text = browser.get(f"/books/{book}/plan.toml").text
    with open_shelf(house.settings.shelf) as shelf:
        asked = read_back(text, owned_texts(shelf))
        assert text == book_on(shelf, book).item.state.text
        by_hand, notices = planned(shelf, asked)
    assert notices == ()
    out = house.settings.made / "by-hand.pdf"
    make_book(by_hand, out, workers=0)
    assert (house.settings.made / "books/winter-tunes.pdf").read_bytes() == whole
    assert out.read_bytes() == whole

    site = done(browser, f"/books/{book}/site", {"sound": False, "downloads": ["abc"]})
    assert site["files"] == ["winter-tunes-web.zip"]
    zipped = zipfile.ZipFile(io.BytesIO(browser.get(f"/books/{book}/web.zip").content))
    assert zipped.testzip() is None
    names = set(zipped.namelist())
    folder = house.settings.made / "books/winter-tunes-web"
    assert {f"winter-tunes-web/{path.name}" for path in folder.iterdir()} == names
    start = zipped.read("winter-tunes-web/index.html").decode()
    for linked in re.findall(r'href="([a-z0-9-]+\.html)"', start):
        assert f"winter-tunes-web/{linked}" in names
    assert "winter-tunes-web.zip" in browser.get(f"/books/{book}").text

    # A title that changes takes the book's files along under their first name.
    saved(browser, book, title="Summer Tunes")
    page = browser.get(f"/books/{book}").text
    assert "Summer Tunes" in page and "winter-tunes.pdf" in page
    assert browser.get(f"/books/{book}/book.pdf").content == whole
    empty = begun(browser, "Empty", source="none")
    assert browser.post(f"/books/{empty}/make").status_code == 422
    assert (
        browser.post(
            f"/books/{empty}/preview", json={"book": kept(browser, empty)["book"]}
        ).status_code
        == 422
    )


def test_of_a_large_book_a_preview_draws_a_part_and_says_so(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("reedwright.web.book.previewing.MOST_SHOWN", 3)
    browser, house = client
    tunes = [house.shelve(KETTLE.replace("The Kettle", f"Pan {number}")) for number in range(5)]
    book = begun(browser, "Large")
    plan = kept(browser, book)["book"]
    asked = {"book": plan | {"maker": "of nothing kept"}, "tune": tunes[4].id}
    first = browser.post(f"/books/{book}/preview", json=asked).json()
    titles = [place["title"] for place in first["places"]]
    assert "Pan 4 on the Landing" in titles and "Pan 3 on the Landing" not in titles
    assert any("of the 5 tunes" in notice for notice in first["notices"])
    often = plan | {"parts": [plan["parts"][4]] * 50}
    again = {"book": often, "tune": tunes[4].id, "at": "Cover"}
    shown = browser.post(f"/books/{book}/preview", json=again).json()
    assert sum("Pan 4" in place["title"] for place in shown["places"]) <= 3
    left = [browser.post(f"/books/{book}/engrave", json=asked).json()["to_come"]]
    while left[-1]:
        left.append(browser.post(f"/books/{book}/engrave", json=asked).json()["to_come"])
        assert left[-1] < left[-2]
    then = browser.post(f"/books/{book}/preview", json=asked).json()
    assert then["to_come"] == 0
    assert sum("on the Landing" in place["title"] for place in then["places"]) == 3
