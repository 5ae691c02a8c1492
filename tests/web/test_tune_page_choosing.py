"""Choosing note by note in the browser: by pointer, and again with the keyboard alone."""

from __future__ import annotations

import re

import pytest
from axe import violations
from playwright.sync_api import Page, expect
from tunepages import GATE, opened, set_on_harp, until
from webhouse import House


def _tab(page: Page, note: str) -> str:
    """What stands under a note in the music."""
    return page.locator(f'#music [data-note="{note}"] text').first.text_content() or ""


def _prepared(page: Page, house: House) -> int:
    """On a G harp in its own octave D4 is hole 2 draw or hole 3 blow (standard tuning)."""
    number = house.shelve(GATE).id
    set_on_harp(page, house, number, harp="G", octaves=0)
    opened(page, number)
    return number


@pytest.mark.parametrize("keyboard", [False, True], ids=["pointer", "keyboard"])
def test_a_note_is_pinned_forbidden_ornamented_breathed_after_and_let_go(
    page: Page, house: House, keyboard: bool
) -> None:
    number = _prepared(page, house)
    panel, said = page.locator("#panel"), page.locator("#said")
    pins = page.locator("#music .mark-pin")
    drawn = page.locator("#music [data-note]")
    usual = _tab(page, "n1")
    assert usual in ("2↓", "3↑")
    other = "3 blow" if usual == "2↓" else "2 draw"

    def press(name: str | re.Pattern[str]) -> None:
        button = panel.get_by_role("button", name=name, exact=isinstance(name, str))
        if keyboard:
            for _ in range(60):
                if button.evaluate("each => each === document.activeElement"):
                    break
                page.keyboard.press("Tab")
            expect(button).to_be_focused()
            page.keyboard.press("Enter")
        else:
            button.click()
        expect(panel.locator("[aria-busy=true]")).to_have_count(0)

    def open_note() -> None:
        if keyboard:
            page.locator("#music").focus()
            page.keyboard.press("ArrowRight")
            page.keyboard.press("Home")
            page.keyboard.press("Enter")
        else:
            page.locator('#music [data-note="n1"] .notehead').click()
        expect(panel).to_be_visible()
        expect(panel.get_by_role("heading", level=2)).to_be_focused()
        # Above the text, however long that is: beside the music that was pressed.
        assert panel.bounding_box()["y"] < page.locator("#text").bounding_box()["y"]  # type: ignore[index]

    open_note()
    assert "ar 1, note 1, D4" in panel.get_by_role("heading", level=2).inner_text()
    expect(panel.get_by_text(re.compile("effort"))).not_to_have_count(0)

    press(f"Pin {other}")
    expect(pins).to_have_count(1)
    assert _tab(page, "n1").startswith(other[0])
    expect(said).to_contain_text(f"play {other}")
    if keyboard:  # the keys stay where they were, at what takes the choice back
        expect(panel.get_by_role("button", name=f"Unpin {other}")).to_be_focused()
    press(re.compile(f"Unpin.*{other}"))
    expect(pins).to_have_count(0)
    assert _tab(page, "n1") == usual

    press("Forbid " + ("2 draw" if usual == "2↓" else "3 blow"))
    expect(panel.get_by_text("forbidden")).to_be_visible()
    assert _tab(page, "n1").startswith(other[0])
    press(re.compile("^Allow"))
    expect(panel.get_by_text("forbidden")).to_have_count(0)
    assert _tab(page, "n1") == usual

    before = drawn.count()
    press("Add a cut")
    expect(drawn).to_have_count(before + 1)
    press("Take out the cut")
    expect(drawn).to_have_count(before)

    press("Breathe after it")
    expect(panel.get_by_text("There is a breath after this note")).to_be_visible()
    press("Breath as the music says")
    press("Clear all choices of this note")
    expect(said).not_to_be_empty()
    assert _tab(page, "n1") == usual

    if keyboard:
        page.keyboard.press("Escape")
    else:
        panel.get_by_role("button", name="Close").click()
    expect(panel).to_be_hidden()
    expect(page.locator("#music")).to_be_focused()

    if not keyboard:
        return
    # Every step can be undone, one after another, and the first choice is back in sight.
    undo = page.get_by_role("button", name="Undo")
    steps = 0
    while not pins.count() and steps < 12:
        tune = page.request.get(f"/tunes/{number}/version").json()
        undo.click()
        until(
            page,
            "before => import('/static/js/tune/page.js')"
            ".then((m) => m.tune.view.version.choices !== before)",
            tune["choices"],
        )
        steps += 1
    assert _tab(page, "n1").startswith(other[0])


def test_notes_are_reached_by_arrows_and_said_in_words(page: Page, house: House) -> None:
    _prepared(page, house)
    said = page.locator("#said")
    page.locator("#music").focus()
    page.keyboard.press("ArrowRight")
    expect(said).to_have_text(re.compile(r"^Bar 1, note 1, D4, hole (2 draw|3 blow)$"))
    page.keyboard.press("ArrowRight")
    expect(said).to_contain_text("Bar 1, note 2, G4, hole 4 blow")
    # The chosen note is marked in the music, and in the text under its letter.
    assert page.locator("#music .mark-chosen").count() == 1
    expect(page.locator(".under .chosen")).to_have_text("G")
    page.keyboard.press("End")
    expect(said).to_contain_text("Bar 4, note")
    page.keyboard.press("ArrowUp")
    expect(said).not_to_contain_text("Bar 4")
    page.keyboard.press("Home")
    expect(said).to_contain_text("Bar 1, note 1")
    # The cursor in the text finds the note.
    page.evaluate(
        "() => { const at = abc.value.indexOf('EGGF'); abc.focus();"
        " abc.setSelectionRange(at, at); }"
    )
    chosen = until(
        page,
        "document.querySelector('.under .chosen')?.textContent === 'E'"
        " && document.querySelector('#music .mark-chosen').closest('[data-note]').dataset.note",
    )
    view = page.request.get(page.url + "/view").json()
    assert next(note for note in view["notes"] if note["id"] == chosen)["pitch"] == "E4"
    # Harp and player are chosen beside it; the whole is sound for those who cannot see it.
    page.get_by_label("Harp", exact=True).select_option(label="A harp")
    expect(page.locator("#harp-name")).to_contain_text("A harp")
    page.locator("#music [data-note]").first.click()
    expect(page.locator("#panel")).to_be_visible()
    assert violations(page) == []
    page.evaluate("document.documentElement.dataset.theme = 'dark'")
    assert violations(page, ["color-contrast"]) == []
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert violations(page) == []


def test_a_choice_that_another_harp_cannot_honour_is_told_as_long_as_it_is_so(
    page: Page, house: House
) -> None:
    number = house.shelve(GATE).id
    set_on_harp(page, house, number, harp="G", octaves=0)
    made_from = page.request.get(f"/tunes/{number}/version").json()
    pinned = {"do": "play", "note": "n1", "way": "3 blow", "made_from": made_from}
    assert page.request.post(f"/tunes/{number}/choices", data=pinned).ok
    opened(page, number)
    told = page.locator("#notices")
    expect(told).to_be_hidden()
    page.get_by_label("Harp", exact=True).select_option(label="A harp")
    expect(told).to_contain_text("3 blow")
    page.reload()
    expect(told).to_contain_text("3 blow")
    page.get_by_role("button", name="Undo").click()
    expect(told).to_be_hidden()
