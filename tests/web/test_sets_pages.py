"""Sets over the web: what is sent is kept to the letter, undone, and never lost to another page."""

from __future__ import annotations

import io
from typing import Any

import pypdf
import pytest
from fastapi.testclient import TestClient
from furnished import FERRY
from hypothesis import given, settings
from hypothesis import strategies as st
from webhouse import KETTLE, House

from reedwright.shelf.belongings.harps import keep_harp
from reedwright.shelf.belongings.lists import keep_list
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.model import Form, Kind
from reedwright.web.shelf.evenings import Planning, Wishes, plan_work

Asked = tuple[TestClient, House]
Values = dict[str, Any]


@pytest.fixture
def four(client: Asked) -> Asked:
    """Four tunes, 1 to 4, and an empty set, 5."""
    for text in (KETTLE, FERRY, KETTLE.replace("Kettle", "Lamp"), FERRY.replace("Ferry", "Weir")):
        client[1].shelve(text)
    client[0].post("/sets", data={"name": "Saturday"}, follow_redirects=False)
    return client


def _view(asker: TestClient, number: int = 5) -> Values:
    found: Values = asker.get(f"/sets/{number}/view").json()
    return found


def _send(asker: TestClient, view: Values, ids: list[int], /, **changes: Any) -> tuple[int, Values]:
    sent = {
        "made_from": view["state"],
        "name": view["name"],
        "notes": view["notes"],
        "tunes": [{"id": each} for each in ids],
    } | changes
    answer = asker.post(f"/sets/{view['id']}/content", json=sent)
    return answer.status_code, answer.json()


def _tunes(view: Values) -> list[int]:
    return [tune["id"] for tune in view["tunes"]]


def test_a_set_is_made_filled_and_told_in_a_few_words(four: Asked) -> None:
    asker, _ = four
    status, view = _send(asker, _view(asker), [1, 2])
    assert (status, _tunes(view), view["said"]) == (200, [1, 2], "2 tunes added")
    status, view = _send(asker, view, [2, 1])
    assert (_tunes(view), view["said"]) == ([2, 1], "order changed")
    status, view = _send(asker, view, [2, 1, 3])
    assert view["said"] == "The Lamp on the Landing added"
    status, view = _send(asker, view, [2, 3])
    assert view["said"] == "The Kettle on the Landing taken out"
    status, view = _send(asker, view, [2, 3], name="Sunday")
    assert (view["name"], view["said"]) == ("Sunday", "called 'Sunday'")
    before = view["state"]
    status, view = _send(asker, view, [2, 3])
    assert view["state"] == before  # nothing new makes no state
    assert 'href="/sets/5"' in asker.get("/shelf/2").text


words = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)


def test_words_on_tunes_and_sets_come_back_to_the_letter(four: Asked) -> None:
    asker, _ = four

    @given(st.lists(words, min_size=1, max_size=3), words)
    @settings(max_examples=12, deadline=None)
    def holds(on_tunes: list[str], notes: str) -> None:
        tunes = [{"id": 1, "notes": word} for word in on_tunes]
        status, view = _send(asker, _view(asker), [], tunes=tunes, notes=notes)
        assert status == 200
        assert view["notes"] == notes
        assert [tune["notes"] for tune in view["tunes"]] == on_tunes

    holds()


steps = st.lists(
    st.permutations([1, 2, 3, 4]).map(lambda order: order[:3]) | st.sampled_from(["undo", "redo"]),
    min_size=1,
    max_size=8,
)


def test_any_series_of_changes_is_undone_and_done_again(four: Asked) -> None:
    """Against a line of values with a place in it, as every editor has it."""
    asker, _ = four

    @given(steps)
    @settings(max_examples=8, deadline=None)
    def holds(series: list[Any]) -> None:
        made = asker.post("/sets", data={"name": "A"}, follow_redirects=False)
        number = int(made.headers["location"].rsplit("/", 1)[1])
        line: list[list[int]] = [[]]
        at = 0
        view = _view(asker, number)
        for step in series:
            if step in ("undo", "redo"):
                there = at + (1 if step == "redo" else -1)
                answer = asker.post(f"/sets/{number}/{step}", json={"made_from": view["state"]})
                assert (answer.status_code == 200) == (0 <= there < len(line))
                at = there if 0 <= there < len(line) else at
            else:
                status, _ = _send(asker, view, list(step))
                assert status == 200
                if list(step) != line[at]:
                    line[at + 1 :] = [list(step)]
                    at += 1
            view = _view(asker, number)
            assert _tunes(view) == line[at]
            assert (view["can_undo"], view["can_redo"]) == (at > 0, at < len(line) - 1)

    holds()


def test_two_pages_are_told_of_each_other_and_both_are_kept(four: Asked) -> None:
    asker, house = four
    old = _view(asker)
    _, theirs = _send(asker, old, [1, 2])
    status, told = _send(asker, old, [3])
    assert status == 409
    assert told["kind"] == "changed-meanwhile"
    assert _tunes(told["view"]) == [1, 2]
    assert _tunes(_view(asker)) == [1, 2]  # nothing was written over
    status, view = _send(asker, old, [3], keep_both=True)
    assert (status, _tunes(view)) == (200, [1, 2])
    with open_shelf(house.settings.shelf) as shelf:
        said = [state.text.count("uid") for state in shelf.states(5)]
    assert said == [0, 2, 1]  # the empty one, theirs, and ours beside it
    asker.post("/sets/5/go-to", data={"state": 3}, follow_redirects=False)
    assert _tunes(_view(asker)) == [3]
    stale = asker.post("/sets/5/undo", json={"made_from": theirs["state"]})
    assert stale.status_code == 409


REFUSED: tuple[Values, ...] = (
    {"tunes": [{"id": 5}]},  # a set is no tune
    {"tunes": [{"id": 99}]},
    {"tunes": [{"id": 2**70}]},
    {"tunes": [{"id": 1}] * 2001},
    {"name": "x" * 201},
    {"notes": "x" * 5001},
    {"made_from": 0},
    {"made_from": "x"},
)


def test_what_no_set_can_be_is_refused(four: Asked) -> None:
    asker, _ = four
    view = _view(asker)
    for changes in REFUSED:
        status, told = _send(asker, view, [], **changes)
        assert status in (404, 422), changes
        assert told["message"]
    half = b'{"made_from": 1, "tunes": [], "name": "\\ud800"}'  # half of a sign, which JSON can say
    headers = {"content-type": "application/json"}
    assert asker.post("/sets/5/content", content=half, headers=headers).status_code == 422
    assert _view(asker) == view


def test_a_name_that_another_set_has_is_told_and_a_new_set_gets_a_number(four: Asked) -> None:
    asker, _ = four
    asker.post("/sets", data={"name": "Saturday"}, follow_redirects=False)
    assert _view(asker, 6)["name"] == "Saturday 2"
    status, told = _send(asker, _view(asker, 6), [], name="Saturday")
    assert status == 422
    assert "called 'Saturday' already" in told["message"]
    assert asker.post("/sets", data={"name": "  "}).status_code == 422


def test_all_that_a_search_finds_becomes_a_set(four: Asked) -> None:
    asker, _ = four
    assert 'name="found" value="type=jig"' in asker.get("/shelf/found?type=jig").text
    asker.post("/sets", data={"name": "Jigs", "found": "type=jig"}, follow_redirects=False)
    assert _tunes(_view(asker, 6)) == [2, 4]
    wrong = asker.post("/sets", data={"name": "No", "found": "grade=x"}, follow_redirects=False)
    assert wrong.status_code == 422


def test_a_list_made_elsewhere_is_shown_and_books_are_not(four: Asked) -> None:
    asker, house = four
    with open_shelf(house.settings.shelf) as shelf:
        kept = keep_list(shelf, "<b>From the terminal</b>", [shelf.item(2), shelf.item(1)])
        book = shelf.add(Kind.LIST, "A book", Form.TOML, 'title = "B"', about={"what": "book"})
        broken = shelf.add(Kind.LIST, "Broken", Form.TOML, "title = ")
    html = asker.get("/sets").text
    assert "&lt;b&gt;From the terminal&lt;/b&gt;" in html
    assert "A book" not in html
    assert _tunes(_view(asker, kept.id)) == [2, 1]
    assert asker.get(f"/sets/{book.id}").status_code == 404
    assert asker.get(f"/sets/{broken.id}").status_code == 200


def test_a_set_says_nothing_that_ends_its_script(four: Asked) -> None:
    asker, _ = four
    _send(asker, _view(asker), [1], notes="</script><script>alert(1)</script>", name="<!--")
    html = asker.get("/sets/5").text
    assert "<script>alert" not in html
    assert "\\u003c/script\\u003e" in html


def test_tunes_are_offered_as_words_are_typed(four: Asked) -> None:
    found = four[0].get("/sets/find", params={"words": "lamp"}).json()
    assert found == [{"id": 3, "title": "The Lamp on the Landing", "kind": "reel, G major"}]
    assert four[0].get("/sets/find").json() == []


def test_the_harps_for_a_set_and_its_keys_are_told(four: Asked) -> None:
    asker, house = four
    assert "once there are tunes" in asker.get("/sets/5/harps").text
    _send(asker, _view(asker), [1, 2, 4])
    assert "harps of yours" in asker.get("/sets/5/harps?owned=true").text
    with open_shelf(house.settings.shelf) as shelf:
        keep_harp(shelf, "red", "G")
        keep_harp(shelf, "blue", "D")
    html = asker.get("/sets/5/harps?owned=true&no_bends=true").text
    # By hand: the Kettle has C naturals, which a D harp has in no plain blow or draw, and the Ferry
    # C sharps, which a G harp has in none.
    assert "2 harps will do: G harp and D harp." in html
    assert "up a fifth" in html  # from G to D
    assert "in the same key" in html  # from D to D
    assert "(change)" in html


def test_a_set_sheet_has_the_tunes_in_their_order(four: Asked) -> None:
    asker, _ = four
    _send(asker, _view(asker), [2, 1])
    pdf = asker.get("/sets/5/sheet.pdf?paper=a5")
    text = "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf.content)).pages)
    assert 0 <= text.index("Ferry at Low Water") < text.index("Kettle on the Landing")
    assert asker.get("/sets/5/sheet.pdf?paper=a99").status_code == 422


def test_an_evening_is_planned_kept_shown_and_printed(four: Asked) -> None:
    asker, house = four
    _send(asker, _view(asker), [1, 2, 3, 4])
    wishes = Wishes(title="Thursday", usual=2, most=2, times=1)
    outcome = plan_work(Planning(house.settings.shelf, 5, wishes), lambda share, doing: None)
    assert outcome.go == "/sets/6"
    html = asker.get("/sets/6").text
    for name in ("Kettle", "Lamp", "Ferry", "Weir"):
        assert name in html
    pdf = asker.get("/sets/6/sheet.pdf")
    assert "Weir" in "".join(
        page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf.content)).pages
    )
    status, told = _send(asker, _view(asker, 6), [1])
    assert status == 422
    assert "as it was planned" in told["message"]
    again = plan_work(Planning(house.settings.shelf, 5, wishes), lambda share, doing: None)
    assert again.go == "/sets/7"  # the first one is not written over


IMPOSSIBLE = (
    {"minutes": "x"}, {"sets": "0"}, {"fewest": "4", "usual": "2"}, {"player": "nobody"},
    {"hardest": "never"}, {"times": "99"}, {"most_harps": "1.5"},
)  # fmt: skip


def test_wishes_that_can_t_be_followed_are_told_before_anything_begins(four: Asked) -> None:
    asker, _ = four
    _send(asker, _view(asker), [1, 2])
    for fields in IMPOSSIBLE:
        answer = asker.post("/sets/5/plan", data=fields, follow_redirects=False)
        assert answer.status_code == 422, fields
    assert not asker.app.state.desk.jobs.all()  # type: ignore[attr-defined]


def test_a_set_is_taken_off_and_put_back(four: Asked) -> None:
    asker, _ = four
    asker.post("/sets/5/remove", follow_redirects=False)
    assert "Saturday" not in asker.get("/sets").text
    assert "off the shelf" in asker.get("/sets/5").text
    asker.post("/sets/5/put-back", follow_redirects=False)
    assert "Saturday" in asker.get("/sets").text
