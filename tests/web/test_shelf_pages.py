"""The shelf searched in the browser: what is found, what is told, and how tunes begin."""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from fastapi.testclient import TestClient
from furnished import FERRY
from webhouse import KETTLE, House

from reedwright.shelf.belongings.harps import keep_harp
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.web.shelf.asking import PAGE

Asked = tuple[TestClient, House]
SVG = "{http://www.w3.org/2000/svg}"


def _found(html: str) -> list[int]:
    return [int(number) for number in re.findall(r'class="title"[^>]* href="/tunes/(\d+)"', html)]


@pytest.fixture
def two(client: Asked) -> Asked:
    """The Kettle (a reel in G) is 1, the Ferry (a jig in D) 2."""
    client[1].shelve(KETTLE)
    client[1].shelve(FERRY)
    return client


ASKED: tuple[tuple[str, list[int]], ...] = (
    ("", [2, 1]),  # by title, articles aside
    ("words=ketle", [1]),
    ("words=landing kettle", [1]),
    ("type=jig", [2]),
    ("type=reel, jig", [2, 1]),
    ("key=G", [1]),
    ("metre=6/8", [2]),
    ("range=D4-G5", [1]),  # the Ferry goes up to B5, the Kettle to G5
    ("harp=G", [1]),
    ("notes=GBdG BGce", [1]),
    ("notes=ABA FAB AFd", []),
    ("taught=no", [2, 1]),
    ("taught=yes", []),
    ("type=jig&key=G", []),
)


def test_what_is_asked_for_is_found(two: Asked) -> None:
    for query, numbers in ASKED:
        whole = two[0].get(f"/shelf?{query}")
        piece = two[0].get(f"/shelf/found?{query}")
        assert whole.status_code == piece.status_code == 200
        if query.startswith("notes"):
            assert numbers[:1] == _found(piece.text)[: len(numbers)], query
        else:
            assert _found(whole.text) == _found(piece.text) == numbers, query


def test_what_was_asked_stands_in_the_form_and_in_the_address(two: Asked) -> None:
    html = two[0].get("/shelf", params={"words": '"><script>alert(1)</script>', "type": "jig"}).text
    assert "<script>alert" not in html
    assert "&gt;&lt;script&gt;" in html
    assert 'name="type" value="jig"' in html
    assert "<details open>" in html  # what is filled in is not folded away
    assert "<details>" in two[0].get("/shelf?words=kettle").text
    piece = two[0].get("/shelf/found", params={"words": "a b", "type": "jig"})
    assert piece.headers["hx-replace-url"] == "/shelf?words=a+b&type=jig"


def test_where_nothing_is_found_it_is_said_what_to_leave_out(two: Asked) -> None:
    html = two[0].get("/shelf/found?type=jig&key=G&words=the").text
    assert "Nothing on the shelf is like that." in html
    assert "Without the type, 1 tune is found." in html
    assert "Without the key, 1 tune is found." in html
    assert "Without words" not in html  # which would not help


NOT_UNDERSTOOD = (
    "grade=hard", "range=B5-D4", "harp=Q", "like=0", "like=99999999999999999999", "like=77",
    "notes=GA", "contour=UX", "notes=GABc&like=1", "list=no such", "owned=1", "metre=%00",
)  # fmt: skip


def test_what_cannot_be_asked_is_told_in_a_sentence(two: Asked) -> None:
    for query in NOT_UNDERSTOOD:
        answer = two[0].get(f"/shelf/found?{query}")
        assert answer.status_code == 200
        assert 'class="trouble"' in answer.text, query
        assert not _found(answer.text)


def test_a_harp_of_one_s_own_can_be_asked_for(two: Asked) -> None:
    with open_shelf(two[1].settings.shelf) as shelf:
        keep_harp(shelf, "red", "G")
    assert _found(two[0].get("/shelf/found?owned=1").text) == [1]


def test_more_than_a_page_is_shown_as_it_is_asked_for(client: Asked) -> None:
    for number in range(PAGE + 3):
        client[1].shelve(f"X:1\nT:Tune {number:03}\nM:4/4\nL:1/8\nK:G\nG2BG dGBG|]\n")
    first = client[0].get("/shelf?words=tune").text
    assert len(_found(first)) == PAGE
    further = re.search(r'hx-get="([^"]+)"[^>]*>More', first)
    assert further
    rest = client[0].get(further[1].replace("&amp;", "&")).text
    assert len(_found(rest)) == 3
    assert not set(_found(first)) & set(_found(rest))
    assert "More" not in rest


def test_a_title_that_looks_like_a_page_is_shown_as_it_is(client: Asked) -> None:
    client[1].shelve(KETTLE.replace("The Kettle on the Landing", "<img src=x onerror=alert(1)>"))
    for address in ("/", "/shelf", "/shelf/1", "/shelf/found?words=img"):
        html = client[0].get(address).text
        assert "<img src=x" not in html
        assert "&lt;img src=x onerror=alert(1)&gt;" in html


def test_a_tune_s_beginning_is_a_drawing_that_may_be_kept_for_good(two: Asked) -> None:
    answer = two[0].get("/shelf/1/opening.svg?at=1")
    assert answer.headers["content-type"] == "image/svg+xml"
    assert "immutable" in answer.headers["cache-control"]
    drawing = ElementTree.fromstring(answer.text)
    assert not list(drawing.iter(f"{SVG}style")) and not list(drawing.iter(f"{SVG}script"))
    # Its first two bars are G2BG dGBG|c2ec BGAF|: counted by hand, fourteen notes.
    notes = [each for each in drawing.iter(f"{SVG}g") if each.get("class") == "note"]
    assert len(notes) == 14
    assert "immutable" not in two[0].get("/shelf/1/opening.svg?at=7").headers["cache-control"]


def test_numbers_of_nothing_are_told(two: Asked) -> None:
    for number in ("0", "-1", "3", "x", str(2**70), "1.5", "%00"):
        for address in (f"/shelf/{number}", f"/shelf/{number}/opening.svg", f"/sets/{number}"):
            answer = two[0].get(address, headers={"accept": "text/html"})
            assert answer.status_code in (404, 422), address
            assert "Traceback" not in answer.text
