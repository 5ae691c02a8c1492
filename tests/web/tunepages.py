"""The tune page as the tests of it use it."""

from __future__ import annotations

import time

from playwright.sync_api import Page, expect
from webhouse import House

expect.set_options(timeout=20_000)  # milliseconds: other programs may have the machine

# Made up for the tests. On a G harp its D is hole 2 draw or hole 3 blow, so that there is a choice.
GATE = """X:1
T:The Gate
M:4/4
L:1/8
K:G
|:D2GB dBGD|EGGF G2D2:|
|:G2Bd gdBG|AGFA G2G2:|
"""


def opened(page: Page, number: int, part: str = "") -> None:
    """Open the tune's page and wait until its scripts have begun."""
    page.goto(f"/tunes/{number}{part}")
    page.wait_for_selector("[data-ready]")


def saved(page: Page) -> None:
    """Wait until the server has what was typed."""
    expect(page.locator("#state")).to_have_text("Saved.")


def kept(page: Page, number: int) -> str:
    """The tune's text as the server has it."""
    text: str = page.request.get(f"/tunes/{number}/view").json()["text"]
    return text


def typed(page: Page, at: str, text: str) -> None:
    """Type on the keyboard behind the first place where `at` stands."""
    page.evaluate(
        "at => { const field = document.getElementById('abc');"
        " const place = field.value.indexOf(at) + at.length;"
        " field.focus(); field.setSelectionRange(place, place); }",
        at,
    )
    page.keyboard.type(text)


def set_on_harp(page: Page, house: House, number: int, **settings: object) -> None:
    """Choose settings of the tune without the page."""
    made_from = page.request.get(f"{house.url}/tunes/{number}/version").json()
    answer = page.request.post(
        f"{house.url}/tunes/{number}/choices",
        data={"do": "set", "settings": settings, "made_from": made_from},
    )
    assert answer.ok, answer.text()


def until(page: Page, expression: str, given: object = None, seconds: float = 30.0) -> object:
    """Wait until an expression of the page is true, and give its value. (Playwright's own waiting
    evaluates strings inside the page, which its policy forbids.)"""
    end = time.monotonic() + seconds
    while not (found := page.evaluate(expression, given)):
        assert time.monotonic() < end, f"never true: {expression}"
        page.wait_for_timeout(60)
    return found
