"""Where the reader's own few colours hold (forced-colors of Media Queries Level 5): no shadow and
no fill is left to tell what is pressed, and engraved music stays black on white."""

from __future__ import annotations

from playwright.sync_api import Browser
from tunepages import opened
from webhouse import House

_LOOK = """(selector) => {
  const look = getComputedStyle(document.querySelector(selector));
  return [look.backgroundColor, look.color];
}"""


def test_what_is_pressed_is_told_and_music_is_read_in_a_reader_s_own_colours(
    browser: Browser, house: House
) -> None:
    number = house.shelve().id
    context = browser.new_context(base_url=house.url, forced_colors="active", color_scheme="dark")
    page = context.new_page()
    opened(page, number, "/stand")
    pressed = page.evaluate(_LOOK, "button[data-shows][aria-pressed=true]")
    loose = page.evaluate(_LOOK, "button[data-shows][aria-pressed=false]")
    assert pressed[0] != loose[0]
    assert pressed[1] != loose[1]
    ground, words = page.evaluate(_LOOK, "button.main")
    assert ground != words
    assert ground != loose[0]
    over_the_music = page.evaluate(_LOOK, "#back:disabled")[0]
    assert over_the_music == "rgba(0, 0, 0, 0)"  # clear
    assert page.evaluate(_LOOK, "#music svg") == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
    context.close()
