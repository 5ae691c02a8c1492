"""The reed meter in a browser, with a reed of known pitch in place of the microphone."""

from __future__ import annotations

import re
import wave
from collections.abc import Iterator
from math import asinh
from pathlib import Path

import numpy as np
import pytest
from axe import violations
from chromium import launched
from made_reeds import MadeReed, Sound, laid
from playwright.sync_api import Browser, Page, expect
from webhouse import House, served

from reedwright.shelf.belongings.harps import history_on, keep_harp
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.workshop.history.model import Measured

RATE = 48_000
WAIT = 20_000  # milliseconds


def write_wav(path: Path, sound: Sound) -> None:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(np.round(sound * 20_000).astype("<i2").tobytes())


@pytest.fixture
def reed(tmp_path: Path) -> Path:
    """A reed 13 cents above 440 Hz, a second and a half, then silence."""
    path = tmp_path / "reed.wav"
    write_wav(path, laid([(0.3, MadeReed(440 * 2 ** (13 / 1200), 1.5))], 2.6, rate=RATE))
    return path


@pytest.fixture
def hearing(browser: Browser, reed: Path) -> Iterator[Browser]:
    """Chromium whose microphone is that reed, over and over."""
    with launched(browser.browser_type, reed) as other:
        yield other


@pytest.fixture
def shop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[House, int]]:
    """A server with one harp on its shelf, and the harp's number."""
    monkeypatch.setenv("REEDWRIGHT_BENCH", str(tmp_path / "bench"))
    with served(tmp_path) as house:
        with open_shelf(house.settings.shelf) as shelf:
            item = keep_harp(shelf, "the red one", "G").id
        yield house, item


def watched(browser: Browser, house: House, wrong: list[str]) -> Page:
    page = browser.new_context(base_url=house.url).new_page()
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on(
        "console",
        lambda said: wrong.append(said.text) if "Security Policy" in said.text else None,
    )
    return page


# The page's own lines, so that one can be cut.
LINES = """
window.lines = [];
const Plain = WebSocket;
window.WebSocket = class extends Plain {
  constructor(...given) { super(...given); window.lines.push(this); }
};
"""
NEEDLE_AT = """([expected, by]) => {
  const needle = document.getElementById("needle");
  const turned = Number(needle.getAttribute("transform").match(/rotate\\(([-.0-9]+)/)[1]);
  return needle.getAttribute("visibility") === "visible" && Math.abs(turned - expected) < by;
}"""
REFUSED = """
navigator.mediaDevices.getUserMedia = async () => {
  throw new DOMException("no", "NotAllowedError");
};
"""


def test_a_reed_is_heard_seen_kept_and_taken_back_and_a_lost_line_is_made_anew(
    hearing: Browser, shop: tuple[House, int]
) -> None:
    """13 cents sharp stands on the dial at the angle of its formula, to a tenth of a cent."""
    house, item = shop
    wrong: list[str] = []
    page = watched(hearing, house, wrong)
    page.add_init_script(LINES)
    page.goto(f"/bench/listen?mine={item}")
    page.get_by_role("button", name="Listen", exact=True).click()
    expect(page.locator("#line")).to_contain_text("Listening: G harp", timeout=WAIT)
    expect(page.locator("#reed")).to_have_text("4 draw · A4", timeout=WAIT)
    expect(page.locator("#cents")).to_have_text("+13.0", timeout=WAIT)
    expected = 62 * asinh(13 / 5) / asinh(10)
    a_tenth = 62 * (asinh(13.1 / 5) - asinh(13 / 5)) / asinh(10)
    page.wait_for_function(NEEDLE_AT, arg=[expected, a_tenth], timeout=WAIT)
    page.keyboard.press("r")
    expect(page.locator("#said")).to_contain_text("13.0 cents sharp")

    page.keyboard.press("k")
    expect(page.locator("#kept")).to_have_text("Kept with the red one: 4 draw.", timeout=WAIT)
    with open_shelf(house.settings.shelf) as shelf:
        (entry,) = history_on(shelf, item).entries
    assert isinstance(entry, Measured)
    assert entry.reeds[0].cents == pytest.approx(13.0, abs=0.06)
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#kept")).to_contain_text("Taken back")
    with open_shelf(house.settings.shelf) as shelf:
        assert history_on(shelf, item).entries == ()

    page.evaluate("window.lines.at(-1).close()")
    expect(page.locator("#line")).to_contain_text("was lost")
    expect(page.locator("#line")).to_contain_text("Listening", timeout=WAIT)
    expect(page.locator("#count")).not_to_have_text("0", timeout=WAIT)
    page.get_by_role("radio", name="3 blow", exact=True).check()
    expect(page.locator("#hz")).to_contain_text("of 293.66", timeout=WAIT)
    assert violations(page) == []
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    page.get_by_role("button", name="Stop listening").click()
    expect(page.locator("#line")).to_have_text("Not listening.")
    assert wrong == []


def test_without_a_microphone_a_recording_is_measured_and_kept(
    browser: Browser, shop: tuple[House, int], reed: Path
) -> None:
    house, item = shop
    wrong: list[str] = []
    page = watched(browser, house, wrong)
    page.add_init_script(REFUSED)
    page.goto(f"/bench/listen?mine={item}")
    page.get_by_role("button", name="Listen", exact=True).click()
    expect(page.locator("#line")).to_contain_text("no leave to use the microphone")
    page.set_input_files("#sound", reed)
    page.locator("#order").fill("backwards")
    page.get_by_role("button", name="Measure it").click()
    expect(page.locator("#recording-wrong")).to_contain_text("backwards")
    page.locator("#order").fill("")
    page.get_by_role("button", name="Measure it").click()
    page.get_by_role("link", name="What the reeds sound").click(timeout=4 * WAIT)
    expect(page.get_by_role("row", name="4 draw")).to_contain_text("+13.0")
    assert violations(page) == []
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("the red one")
    expect(page.get_by_role("table", name=re.compile("Cents from"))).to_contain_text("+13.0")
    page.get_by_role("button", name=re.compile("Undo: measured")).click()
    expect(page.locator("main")).to_contain_text("Nothing was measured yet")
    page.context.close()
    assert wrong == []
