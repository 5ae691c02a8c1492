"""The music stand: pages that fit every screen, turned without scrolling, the screen kept awake."""

from __future__ import annotations

from axe import violations
from playwright.sync_api import Page, expect
from tunepages import opened, until
from webhouse import House

# Made up: 32 bars.
LONG = (
    """X:1
T:The Long Way to the Ferry
R:reel
M:4/4
L:1/8
K:G
"""
    + 8 * "G2BG dGBG|c2ec BGAF|G2BG dGBd|cAFA G4|\n"
)
PHONE = {"width": 390, "height": 844}
LYING = {"width": 844, "height": 390}
TABLET = {"width": 820, "height": 1180}

_SHOWN = """
(selector) => {
  const room = document.getElementById('sheet').getBoundingClientRect();
  return [...document.querySelectorAll(selector)].map((item, index) => [index, item.getBoundingClientRect()])
    .filter(([, box]) => box.height > 0)
    .map(([index, box]) => [index, box.top >= room.top - 1 && box.bottom <= room.bottom + 1
      && box.left >= room.left - 1 && box.right <= room.right + 1]);
}
"""  # noqa: E501

# Stands in for the browser's wake lock, and counts what is asked of it.
_WAKE = """
Object.defineProperty(navigator, 'wakeLock', {
  value: { request: async (kind) => { (window.locks ??= []).push(kind); return {}; } },
});
"""


def _through(page: Page, selector: str, key: str) -> list[int]:
    """Which items the pages show from the first to the last, all of them wholly."""
    page.keyboard.press("Home")
    seen: list[int] = []
    while True:
        shown = page.evaluate(_SHOWN, selector)
        assert shown
        assert all(fits for _, fits in shown), shown
        seen += [index for index, _ in shown]
        if page.locator("#on").is_disabled():
            return seen
        page.keyboard.press(key)


def test_every_page_of_the_stand_fits_and_turns_by_keys_pedals_and_presses(
    page: Page, house: House
) -> None:
    number = house.shelve(LONG).id
    page.add_init_script(_WAKE)
    page.set_viewport_size(LYING)  # type: ignore[arg-type]
    opened(page, number, "/stand")
    assert page.evaluate("window.locks") == ["screen"]
    page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")  # seen again
    assert page.evaluate("window.locks") == ["screen", "screen"]

    music, tab = "#music > *", "#tab-lines > *"
    for size, key in ((LYING, "PageDown"), (PHONE, "ArrowRight"), (TABLET, " ")):
        page.set_viewport_size(size)  # type: ignore[arg-type]
        page.wait_for_timeout(150)
        seen = _through(page, music, key)
        assert seen == list(range(page.locator(music).count()))
        assert page.evaluate(
            "[document.documentElement.scrollWidth <= innerWidth,"
            " document.documentElement.scrollHeight <= innerHeight]"
        ) == [True, True]
        assert violations(page) == []

    # Nothing moves by a wheel or a finger; presses right and left turn.
    page.set_viewport_size(LYING)  # type: ignore[arg-type]
    page.wait_for_timeout(150)
    page.keyboard.press("Home")
    line = page.locator("#page")
    expect(line).to_contain_text("Page 1 of")
    page.mouse.move(400, 200)
    page.mouse.wheel(0, 600)
    assert page.evaluate("[scrollY, document.getElementById('sheet').scrollTop]") == [0, 0]
    assert page.evaluate("getComputedStyle(sheet).touchAction") == "pinch-zoom"
    page.mouse.click(700, 200)
    expect(line).to_contain_text("Page 2 of")
    page.keyboard.press(" ")  # a pedal's key turns on, wherever was pressed last
    expect(line).to_contain_text("Page 3 of")
    page.mouse.click(100, 200)
    expect(line).to_contain_text("Page 2 of")
    page.keyboard.press("PageUp")
    expect(line).to_contain_text("Page 1 of")

    # Larger music has fewer bars in a line.
    before = page.locator(music).count()
    page.get_by_role("button", name="Larger").click()
    expect(page.locator(music)).not_to_have_count(before)
    assert page.locator(music).count() > before

    # The tab alone: blow above the line, draw below it, and the sign says it again.
    page.get_by_role("button", name="Tab only").click()
    assert _through(page, tab, "ArrowDown") == list(range(32))
    page.keyboard.press("Home")
    notes = page.evaluate(
        """() => [...document.querySelectorAll('.bar-tab:not([hidden]) .note-tab')].map((note) => {
          const box = note.getBoundingClientRect();
          const bar = note.closest('.bar-tab').getBoundingClientRect();
          return [note.textContent, box.top - bar.top];
        })"""
    )
    blow = {top for text, top in notes if "↑" in text}
    draw = {top for text, top in notes if "↓" in text}
    assert blow and draw and len(blow | draw) == len(blow) + len(draw)
    assert max(blow) < min(draw)
    small = page.evaluate(
        "parseFloat(getComputedStyle(document.querySelector('.note-tab')).fontSize)"
    )
    page.get_by_role("button", name="Larger").click()
    assert small < page.evaluate(
        "parseFloat(getComputedStyle(document.querySelector('.note-tab')).fontSize)"
    )
    opened(page, number, "/stand")  # the choice is kept
    expect(page.locator("#tab-lines")).to_be_visible()
    assert violations(page) == []
    page.get_by_role("button", name="Black").click()
    paper = "getComputedStyle(document.getElementById('stand')).backgroundColor"
    assert page.evaluate(paper) == "rgb(0, 0, 0)"
    assert violations(page, ["color-contrast"]) == []

    # While it plays the note is marked, and the page that has it is shown.
    page.keyboard.press("End")
    page.get_by_role("button", name="Play").click()
    expect(page.locator("#tab-lines .sounds")).to_have_count(1)
    expect(line).to_contain_text("Page 1 of")
    page.get_by_role("button", name="Stop").click()
    page.get_by_role("button", name="Music and tab").click()
    page.get_by_role("button", name="Play").click()
    until(
        page,
        "() => document.querySelector('#music .mark-sounding')?.getBoundingClientRect().width > 0",
    )
    page.get_by_role("button", name="Stop").click()


def test_the_stand_says_where_the_screen_cannot_be_kept_awake(page: Page, house: House) -> None:
    page.add_init_script("delete Navigator.prototype.wakeLock")
    opened(page, house.shelve().id, "/stand")
    expect(page.locator("#said")).to_contain_text("keep the screen awake")
