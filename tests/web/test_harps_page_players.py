"""Players: a profile is begun from another, its weights changed with words, and undone."""

from __future__ import annotations

import re

import pytest
from axe import violations
from fastapi.testclient import TestClient
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from playwright.sync_api import Page, expect
from webhouse import House

from reedwright.player.checking import lung_names, weight_names
from reedwright.player.loading import load_profile
from reedwright.player.lungs import lungs_meanings
from reedwright.player.profile import Profile, weight_meanings
from reedwright.shelf.belongings.profiles import profile_on
from reedwright.shelf.keeping.opening import open_shelf

Client = tuple[TestClient, House]


def begin(browser: TestClient, name: str = "Anna", source: str = "first-year") -> int:
    answer = browser.post("/players", data={"name": name, "source": source}, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return int(answer.headers["location"].rpartition("-")[2])


def form(browser: TestClient, item: int) -> dict[str, object]:
    """The form as the page has it, so that nothing changes when it is sent."""
    text = browser.get(f"/players/one?player=shelf-{item}").text
    shown = {
        name: re.findall(rf'name="{name}" value="([^"]*)"', text) for name in ("weights", "lungs")
    }
    state = re.findall(r'name="state" value="(\d+)"', text)[0]
    techniques = re.findall(r'name="technique" value="([^"]*)" checked', text)
    title = re.findall(r'name="title" value="([^"]*)"', text)[0]
    description = re.findall(r"<textarea[^>]*>([^<]*)</textarea>", text)[0]
    return {
        "state": state,
        "title": title,
        "description": description,
        "technique": techniques,
        **shown,
    }


def kept(house: House, item: int) -> Profile:
    with open_shelf(house.settings.shelf) as shelf:
        return profile_on(shelf, item)


def test_a_player_begins_as_another_and_sent_back_unchanged_stays_so(client: Client) -> None:
    browser, house = client
    item = begin(browser)
    start = load_profile("first-year")
    assert kept(house, item).weights == start.weights
    asked = form(browser, item)
    assert len(asked["weights"]) == len(weight_names())  # type: ignore[arg-type]
    assert len(asked["lungs"]) == len(lung_names())  # type: ignore[arg-type]
    assert browser.post(f"/players/{item}", data=asked).status_code == 200
    with open_shelf(house.settings.shelf) as shelf:
        assert len(shelf.states(item)) == 1
    twice = browser.post("/players", data={"name": "anna", "source": "player"})
    assert twice.status_code == 422
    assert "already" in twice.text
    for name in ("", "../x", "first-year", "<b>"):
        assert browser.post("/players", data={"name": name}).status_code == 422


def test_every_weight_and_every_figure_of_the_lungs_has_its_own_words(client: Client) -> None:
    browser, _ = client
    text = browser.get(f"/players/one?player=shelf-{begin(browser)}").text
    for table, meanings in (("weights", weight_meanings()), ("lungs", lungs_meanings())):
        for name, meaning in meanings.items():
            label = re.search(rf'<label for="{table}-{name}">([^<]*)</label>', text)
            assert label is not None
            words = label[1].replace("&#39;", "'")
            assert words == meaning or (name == "leap" and words.startswith("over more than one"))


def test_weights_techniques_and_lungs_are_changed_undone_and_done_again(client: Client) -> None:
    browser, house = client
    item = begin(browser)
    asked = form(browser, item)
    weights = list(asked["weights"])  # type: ignore[call-overload]
    weights[weight_names().index("leap")] = "1,25"
    weights[weight_names().index("bend_by_hole")] = "1 2 3 4 5 6 7 8 9 10"
    lungs = list(asked["lungs"])  # type: ignore[call-overload]
    lungs[lung_names().index("most_litres")] = "2"
    changed = {**asked, "weights": weights, "lungs": lungs, "technique": ["draw bend"]}
    browser.post(f"/players/{item}", data=changed)
    now = kept(house, item)
    assert now.weights.leap == 1.25
    assert now.weights.bend_by_hole == (1, 2, 3, 4, 5, 6, 7, 8, 9, 10)
    assert now.lungs.most_litres == 2
    assert now.techniques == {"draw bend"}
    assert now.weights.step == load_profile("first-year").weights.step
    assert browser.post(f"/players/{item}", data=changed).status_code == 409  # from an old page
    assert browser.post(f"/players/{item}/undo", data={"state": "1"}).status_code == 409
    browser.post(f"/players/{item}/undo", data={"state": "2"})
    assert kept(house, item).weights == load_profile("first-year").weights
    browser.post(f"/players/{item}/redo", data={"state": "1"})
    assert kept(house, item) == now


@pytest.mark.parametrize(
    ("name", "typed"),
    [("leap", "much"), ("leap", ""), ("leap", "-1"), ("leap", "nan"), ("bend_by_hole", "1 2")],
)
def test_what_is_no_weight_is_told_beside_its_field_and_nothing_is_kept(
    client: Client, name: str, typed: str
) -> None:
    browser, house = client
    item = begin(browser)
    asked = form(browser, item)
    weights = list(asked["weights"])  # type: ignore[call-overload]
    weights[weight_names().index(name)] = typed
    answer = browser.post(f"/players/{item}", data={**asked, "weights": weights})
    assert answer.status_code == 422
    assert f'aria-describedby="wrong-weights-{name}"' in answer.text
    assert f'value="{typed}"' in answer.text
    assert kept(house, item).weights == load_profile("first-year").weights


@settings(
    max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(texts=st.lists(st.text(max_size=12), max_size=45), title=st.text(max_size=12))
def test_no_form_breaks_a_player(client: Client, texts: list[str], title: str) -> None:
    browser, _ = client
    if "shelf-1" not in browser.get("/players").text:
        begin(browser)
    data = {"state": "1", "title": title, "weights": texts, "lungs": texts}
    assert browser.post("/players/1", data=data).status_code < 500
    padded = [*texts, *["1"] * len(weight_names())][: len(weight_names())]
    data = {"state": "1", "title": title, "weights": padded, "lungs": padded[: len(lung_names())]}
    assert browser.post("/players/1", data=data).status_code < 500
    assert browser.get("/players/one", params={"player": title}).status_code < 500


def test_a_player_is_begun_and_changed_by_keyboard(page: Page, house: House) -> None:
    page.goto("/players")
    page.get_by_label("Name").fill("Anna")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Anna")
    assert violations(page) == []
    page.get_by_label("a draw note bent by a semitone").fill("a lot")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_contain_text("1 figure")
    assert violations(page) == []
    page.get_by_label("a draw note bent by a semitone").fill("7.5")
    page.keyboard.press("Enter")
    expect(page.get_by_role("alert")).to_have_count(0)
    expect(page.get_by_label("a draw note bent by a semitone")).to_have_value("7.5")
    page.get_by_role("button", name="Undo").press("Enter")
    expect(page.get_by_label("a draw note bent by a semitone")).to_have_value("2.5")
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
