"""The app's first page, as a browser shows it."""

from __future__ import annotations

from playwright.sync_api import Page
from webhouse import House


def test_the_first_page_shows_its_name_and_nothing_is_refused(page: Page, house: House) -> None:
    page.goto("/")
    assert page.get_by_role("heading", level=1).inner_text()
    assert page.locator("#theme").is_visible()
