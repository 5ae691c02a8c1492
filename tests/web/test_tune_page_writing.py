"""Writing a tune in the browser: errors marked in place, saved as one goes, never lost."""

from __future__ import annotations

import re
from pathlib import Path

from axe import violations
from playwright.sync_api import Page, Route, expect
from tunepages import GATE, kept, opened, saved, typed
from webhouse import House

from reedwright.shelf.facts.tunes import add_tune
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.tune.musicxml import write_musicxml
from reedwright.tune.musicxml_in import read_musicxml


def _marked(page: Page, kind: str) -> list[tuple[int, str]]:
    """Line and words of all that is marked in the text."""
    found: list[tuple[int, str]] = page.evaluate(
        """kind => [...document.querySelectorAll(`.under .${kind}`)].map((mark) => {
          const before = document.createRange();
          before.setStart(document.querySelector('.under'), 0);
          before.setEndBefore(mark);
          return [before.toString().split('\\n').length, mark.textContent];
        })""",
        kind,
    )
    return [(line, words) for line, words in found]


def test_errors_are_marked_where_they_stand_and_go_when_they_are_mended(
    page: Page, house: House
) -> None:
    number = house.shelve(GATE).id
    opened(page, number)
    music = page.locator("#music [data-note]")
    notes = music.count()
    assert notes == 26

    typed(page, "D2GB d", "h")  # a letter that means nothing
    expect(page.locator(".under .warning")).to_have_text("h")
    assert _marked(page, "warning") == [(6, "h")]
    saved(page)

    typed(page, "M:4/", "x")  # now the text cannot be read, and the music stays as it was
    expect(page.locator("#abc")).to_have_attribute("aria-invalid", "true")
    assert _marked(page, "error")[0][0] == 3
    expect(page.locator("#problem-count")).to_contain_text("1 error")
    expect(page.locator("#stale")).to_be_visible()
    assert music.count() == notes
    page.get_by_role("button", name=re.compile("Line 3, column")).click()
    cursor = page.evaluate("[abc.selectionStart, document.activeElement.id]")
    assert cursor[1] == "abc"
    assert GATE.index("4/4") <= cursor[0] <= GATE.index("4/4") + 3
    # The marks lie under the very letters: the same type, the same width, the same height.
    metrics = page.evaluate(
        """() => [document.getElementById('abc'), document.querySelector('.under')].map((each) => {
          const style = getComputedStyle(each);
          return [style.font, style.letterSpacing, style.padding, each.getBoundingClientRect().x,
            each.getBoundingClientRect().y, each.clientWidth, each.clientHeight];
        })"""
    )
    assert metrics[0] == metrics[1]
    assert page.evaluate("abc.scrollHeight <= abc.clientHeight")

    page.keyboard.press("End")
    page.keyboard.press("Backspace")
    page.keyboard.press("Backspace")
    page.keyboard.type("4")
    expect(page.locator("#abc")).to_have_attribute("aria-invalid", "false")
    typed(page, "D2GB dh", "")
    page.keyboard.press("Backspace")
    page.keyboard.type("e")
    expect(page.locator("#problems li")).to_have_count(1)  # a bar that is too long
    typed(page, "D2GB de", "")
    page.keyboard.press("Backspace")
    expect(page.locator("#problems")).to_be_hidden()
    saved(page)
    assert kept(page, number) == GATE
    expect(page.locator("#stale")).to_be_hidden()

    # What is written shows in the music, and nothing scrolls away.
    page.evaluate("scrollTo(0, 150)")
    typed(page, "GB dBG", "G")
    expect(music).to_have_count(notes + 1)
    assert page.evaluate("scrollY") == 150

    # Undone to the beginning and done again to the end, over a reload.
    states = [kept(page, number)]
    undo, redo = page.get_by_role("button", name="Undo"), page.get_by_role("button", name="Redo")
    while undo.get_attribute("aria-disabled") == "false":
        before = states[-1]
        undo.click()
        expect(page.locator("#abc")).not_to_have_value(before)
        states.append(page.input_value("#abc"))
    assert states[-1] == GATE
    assert len(states) >= 6
    opened(page, number)
    for text in reversed(states[:-1]):
        redo.click()
        expect(page.locator("#abc")).to_have_value(text)
    expect(redo).to_have_attribute("aria-disabled", "true")
    assert violations(page) == []


def test_what_is_typed_outlives_a_server_that_is_gone_a_reload_and_another_window(
    page: Page, house: House
) -> None:
    number = house.shelve(GATE).id
    opened(page, number)
    gone = re.compile(r"/(text|touch|version)$")

    def lost(route: Route) -> None:
        route.abort()

    page.route(gone, lost)
    typed(page, "GB dBG", "c")
    expect(page.locator("#state")).to_contain_text("Kept on this page")
    expect(page.locator("#touch")).to_be_visible()
    mine = page.input_value("#abc")
    page.evaluate("() => { window.fetch = () => Promise.reject(new TypeError('gone')); }")
    opened(page, number)  # a reload meanwhile
    expect(page.locator("#abc")).to_have_value(mine)
    assert kept(page, number) == GATE
    page.unroute(gone)
    saved(page)
    expect(page.locator("#touch")).to_be_hidden()
    assert kept(page, number) == mine

    # Another window writes while this one is cut off: both texts are shown, line by line.
    other = page.context.new_page()
    opened(other, number)
    page.route(gone, lost)
    typed(page, "AGFA G2", "B")
    expect(page.locator("#state")).to_contain_text("Kept on this page")
    mine = page.input_value("#abc")
    typed(other, "T:The", " Garden")
    saved(other)
    theirs = other.input_value("#abc")
    page.unroute(gone)
    conflict = page.locator("#conflict")
    expect(conflict).to_be_visible()
    expect(conflict.get_by_role("heading")).to_be_focused()
    assert "T:The Garden Gate" in conflict.locator("li.theirs").all_inner_texts()[0]
    assert any("AGFA G2B" in each for each in conflict.locator("li.mine").all_inner_texts())
    assert violations(page) == []
    page.evaluate("document.documentElement.dataset.theme = 'dark'")
    assert violations(page, ["color-contrast"]) == []
    assert kept(page, number) == theirs

    # Mine on top: theirs is one step back.
    page.get_by_role("button", name="Keep mine", exact=True).click()
    expect(conflict).to_be_hidden()
    saved(page)
    assert kept(page, number) == mine
    # Taken over there, as nothing waits to be saved.
    expect(other.locator("#abc")).to_have_value(mine, timeout=15_000)
    expect(other.locator("#said")).to_contain_text("another window")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#abc")).to_have_value(theirs)

    # Theirs: mine is put aside, and can be a tune of its own.
    page.route(gone, lost)
    typed(page, "AGFA G2", "A")
    expect(page.locator("#state")).to_contain_text("Kept on this page")
    mine = page.input_value("#abc")
    other.evaluate("import('/static/js/tune/page.js').then((m) => m.tune.look())")
    expect(other.locator("#abc")).to_have_value(theirs)
    typed(other, "T:The", " Old")
    saved(other)
    page.unroute(gone)
    expect(conflict).to_be_visible()
    page.get_by_role("button", name="Take theirs").click()
    expect(page.locator("#abc")).to_have_value(other.input_value("#abc"))
    opened(page, number)
    assert page.locator("#aside pre").inner_text().strip() == mine.strip()
    page.get_by_role("button", name="Make it a tune of its own").click()
    page.get_by_role("link", name="open it").click()
    page.wait_for_selector("[data-ready]")
    expect(page.locator("#abc")).to_have_value(mine)
    assert page.url != f"{house.url}/tunes/{number}"


def test_what_is_written_in_a_tune_that_was_taken_off_is_put_back_or_copied(
    page: Page, house: House
) -> None:
    number = house.shelve(GATE).id
    opened(page, number)
    gone = page.locator("#gone")
    with open_shelf(house.settings.shelf) as shelf:
        shelf.remove(number)
    typed(page, "GB dBG", "c")
    expect(gone).to_be_visible()
    expect(page.locator("#said")).to_contain_text("taken off the shelf")
    # Texts put aside, by whichever window, are shown each by itself.
    page.evaluate(
        "() => import('/static/js/tune/page.js').then(({tune}) => { tune.draft.putAside('one');"
        " tune.draft.putAside('two'); dispatchEvent(new Event('storage')); })"
    )
    aside = page.locator("#aside li")
    expect(aside).to_have_count(2)
    assert violations(page) == []
    aside.filter(has_text="one").get_by_role("button", name="Throw it away").click()
    expect(aside).to_have_count(1)
    assert aside.locator("pre").inner_text() == "two"
    assert page.evaluate("document.activeElement.dataset.do") == "back"
    aside.get_by_role("button", name="Throw it away").click()
    expect(page.locator("#aside")).to_be_hidden()
    expect(page.locator("#abc")).to_be_focused()
    mine = page.input_value("#abc")
    page.get_by_role("button", name="Put the tune back").click()
    expect(gone).to_be_hidden()
    saved(page)
    assert kept(page, number) == mine

    with open_shelf(house.settings.shelf) as shelf:
        shelf.remove(number)
    typed(page, "AGFA G2", "A")
    gone.get_by_role("button", name="Keep mine as a tune of its own").click()
    expect(page.locator("#abc")).to_have_value(mine)
    copy = page.get_by_role("link", name="open it").get_attribute("href")
    assert copy is not None
    further = mine.replace("AGFA G2", "AGFA G2A")
    assert kept(page, int(copy.rsplit("/", 1)[1])) == further


def test_a_page_that_is_left_at_once_has_saved_and_music_that_is_no_abc_is_changed_in_a_copy(
    page: Page, house: House
) -> None:
    number = house.shelve(GATE).id
    opened(page, number)
    page.evaluate("() => { window.setTimeout = () => 0; }")  # the pause is never over
    typed(page, "T:The", " Low")
    page.goto("/jobs")
    for _ in range(50):
        if "The Low Gate" in kept(page, number):
            break
        page.wait_for_timeout(50)
    assert kept(page, number) == GATE.replace("The Gate", "The Low Gate")
    opened(page, number)
    expect(page.locator("#title")).to_have_text("The Low Gate")
    assert page.evaluate("Object.keys(localStorage).filter((each) => each.includes('draft'))") == []

    (tune,) = read_abc(GATE)
    assert isinstance(tune, Tune)
    content = write_musicxml(tune).encode()
    with open_shelf(house.settings.shelf) as shelf:
        drawn = read_musicxml(Path("gate.musicxml"), content)
        number = add_tune(shelf, drawn, content=content).id
    opened(page, number)
    expect(page.locator("#abc")).to_have_attribute("readonly", "")
    assert violations(page) == []
    page.get_by_role("button", name="Make an ABC copy").click()
    page.wait_for_url(re.compile(rf"/tunes/(?!{number}$)\d+$"))
    page.wait_for_selector("[data-ready]")
    typed(page, "T:The", " Copied")
    saved(page)
    expect(page.locator("#title")).to_have_text("The Copied Gate")
