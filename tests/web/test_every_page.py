"""What holds of every page there is: WCAG 2.2, no sideways scrolling on a phone, one heading.

axe-core judges WCAG 2.2 A and AA (see axe.py). Pages are taken from the app's own routes, so that a
new one is looked at, too.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from approutes import PAGES, filled
from axe import violations
from furnished import Furnished, furnished
from playwright.sync_api import Browser
from webhouse import served

PHONE = {"width": 390, "height": 844}
DESK = {"width": 1280, "height": 900}


ASKED = {
    "compare": "?pick=G@0&pick=D@0",
    "look": "?harp=G@0",
    "valves": "?harp=G@0",
    "one": "?name=player",
}


def _address(path: str, house: Furnished) -> str:
    """The path of a page with the numbers and names of things that there are."""
    question = ASKED.get(path.rpartition("/")[2], "") if path.count("/") > 1 else ""
    return filled(path, lambda word: house.value_for(path, word)) + question


def test_there_are_pages_to_look_at() -> None:
    assert len(PAGES) >= 30


@pytest.mark.no_cover
def test_every_page_keeps_wcag_2_2_in_light_and_dark_and_fits_a_phone(
    browser: Browser, tmp_path: Path
) -> None:
    wrong: list[str] = []
    with served(tmp_path) as house:
        there = furnished(house)
        context = browser.new_context(base_url=house.url, viewport=DESK)  # type: ignore[arg-type]
        page = context.new_page()
        page.on("pageerror", lambda error: wrong.append(f"{page.url}: {error}"))
        page.on(
            "console",
            lambda said: (
                wrong.append(f"{page.url}: {said.text}") if "Security Policy" in said.text else None
            ),
        )
        for path in PAGES:
            address = _address(path, there)
            answer = page.goto(address)
            assert answer is not None
            if answer.status != 200:
                wrong.append(f"{address}: {answer.status}")
                continue
            if page.locator("main").count() == 0:  # a piece of a page
                continue
            page.set_viewport_size(DESK)  # type: ignore[arg-type]
            wrong += [f"{address}: {each}" for each in violations(page)]
            page.evaluate("document.documentElement.dataset.theme = 'dark'")
            wrong += [f"{address} dark: {each}" for each in violations(page, ["color-contrast"])]
            if page.locator("h1").count() != 1:
                wrong.append(f"{address}: {page.locator('h1').count()} main headings")
            page.set_viewport_size(PHONE)  # type: ignore[arg-type]
            wide = page.evaluate("document.documentElement.scrollWidth")
            if wide > PHONE["width"]:
                wrong.append(f"{address}: {wide} pixels wide on a phone")
        context.close()
    assert not wrong, "\n".join(wrong)
