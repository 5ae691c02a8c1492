"""A browser and a server for the tests of the web app."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from chromium import launched
from fastapi.testclient import TestClient
from playwright.sync_api import Browser, Page, sync_playwright
from webhouse import House, asked, served


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """What a browser asks for, tests without one ask for, too; tracing its server takes long."""
    for item in items:
        if {"browser", "page"} & set(getattr(item, "fixturenames", ())):
            item.add_marker(pytest.mark.no_cover)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium as the system has it, without a window. Sound may play without a click."""
    with sync_playwright() as playwright, launched(playwright.chromium) as browser:
        yield browser


@pytest.fixture
def house(tmp_path: Path) -> Iterator[House]:
    """A real server with an empty shelf of its own."""
    with served(tmp_path) as house:
        yield house


@pytest.fixture
def client(tmp_path: Path) -> Iterator[tuple[TestClient, House]]:
    """The app without a network, and its house."""
    with asked(tmp_path) as found:
        yield found


@pytest.fixture
def page(browser: Browser, house: House) -> Iterator[Page]:
    """A browser page of 1280 by 900 whose addresses may begin with a slash. Errors in its scripts,
    and anything that the content policy refused, fail the test."""
    context = browser.new_context(
        base_url=house.url, viewport={"width": 1280, "height": 900}, accept_downloads=True
    )
    page = context.new_page()
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(f"error: {error}"))
    page.on(
        "console",
        lambda said: wrong.append(said.text) if "Content Security Policy" in said.text else None,
    )
    yield page
    context.close()
    assert not wrong
