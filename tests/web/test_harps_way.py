"""Which harp, as a user goes about it: by keyboard, with the back button, with marks."""

from __future__ import annotations

from axe import violations
from playwright.sync_api import Page, expect
from webhouse import House


def back(page: Page) -> None:
    """The page is asked for anew then; pressed again meanwhile, the button would do nothing."""
    with page.expect_event("load"):
        page.evaluate("history.back()")


def test_a_harp_is_found_by_keyboard_alone_used_and_undone(page: Page, house: House) -> None:
    house.shelve()
    page.goto("/tunes/1/harps")
    count = page.locator("#count")
    expect(count).to_contain_text("594 of 594 fit")
    # On paper the columns keep their heads, though there is nothing to press.
    page.emulate_media(media="print")
    expect(page.locator("#sort-rank")).to_be_visible()
    expect(page.locator(".pick").first).to_be_hidden()
    page.emulate_media(media="screen")
    page.get_by_label("without bends").focus()
    page.keyboard.press("Space")
    expect(page).to_have_url(f"{house.url}/tunes/1/harps?plain=1")
    expect(count).not_to_contain_text("594 of 594 fit")
    filtered = count.inner_text()
    # A head of a column sorts, keeps the filter, and keeps the focus; again, and it turns round.
    head = page.get_by_role("columnheader", name="Holes")
    head.get_by_role("button").focus()
    page.keyboard.press("Enter")
    expect(page).to_have_url(f"{house.url}/tunes/1/harps?plain=1&sort=holes")
    expect(head).to_have_attribute("aria-sort", "ascending")
    expect(head.get_by_role("button")).to_be_focused()
    page.keyboard.press("Enter")
    expect(page).to_have_url(f"{house.url}/tunes/1/harps?plain=1&sort=-holes")
    expect(head).to_have_attribute("aria-sort", "descending")
    expect(count).to_have_text(filtered)
    page.get_by_label("with every note").press("Space")
    expect(page).to_have_url(f"{house.url}/tunes/1/harps?plain=1&whole=1&sort=-holes")
    # Back and back again: filters, ticks and rows are those of the address.
    back(page)
    expect(page).to_have_url(f"{house.url}/tunes/1/harps?plain=1&sort=-holes")
    expect(page.get_by_label("with every note")).not_to_be_checked()
    expect(page.get_by_label("without bends")).to_be_checked()
    back(page)
    expect(head).to_have_attribute("aria-sort", "ascending")
    back(page)
    expect(page).to_have_url(f"{house.url}/tunes/1/harps?plain=1")
    expect(page.locator("#sort-rank")).to_be_visible()
    back(page)
    expect(page.get_by_label("without bends")).not_to_be_checked()
    expect(count).to_contain_text("594 of 594 fit")
    # Two rows are ticked; a third takes the place of the first. They stay ticked while sorting.
    for row in (1, 2, 3):
        page.locator("input[name=pick]").nth(row).press("Space")
    expect(page.locator("input[name=pick]:checked")).to_have_count(2)
    expect(page.locator("#chosen")).to_have_text("Two ticked.")
    page.locator("#sort-bends").press("Enter")
    expect(page.locator("th[aria-sort]")).to_contain_text("Bends")
    expect(page.locator("input[name=pick]:checked")).to_have_count(2)
    page.get_by_role("button", name="Compare").press("Enter")
    expect(page.get_by_role("heading", name="Bar by bar")).to_be_visible()
    left, right = (page.locator(f"#music-{k}").bounding_box() for k in (1, 2))
    assert left is not None
    assert right is not None
    assert abs(left["y"] - right["y"]) < 60
    assert right["x"] > left["x"] + left["width"]
    name = page.locator(".both h2").nth(1).inner_text()
    page.get_by_role("button", name="Use this harp").nth(1).press("Enter")
    expect(page).to_have_url(f"{house.url}/tunes/1")
    expect(page.locator("#harp-name")).to_contain_text(name)
    page.get_by_role("button", name="Undo").press("Enter")
    expect(page.locator("#harp-name")).not_to_contain_text(name)


def test_what_valves_change_is_marked_in_the_music_and_each_can_be_heard(
    page: Page, house: House
) -> None:
    house.shelve()
    page.goto("/tunes/1/harps/valves?harp=C@0")
    told = page.get_by_role("heading", name="Notes played otherwise").locator("~ ul").first
    changed = told.get_by_role("listitem").count()
    assert changed > 0
    for music in ("#music-1", "#music-2"):
        assert page.locator(f"{music} .differs").count() == changed
    assert violations(page) == []
    page.locator("button.hear").nth(0).click()
    expect(page.locator("#music-1 .heard")).to_have_count(1)
    page.locator("button.hear").nth(1).click()
    expect(page.locator("#music-2 .heard")).to_have_count(1)
    expect(page.locator("#music-1 .heard")).to_have_count(0)
    page.locator("button.hear").nth(1).click()
    expect(page.locator(".heard")).to_have_count(0)
    page.set_viewport_size({"width": 390, "height": 844})
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert page.locator("#music-2").evaluate("e => e.getBoundingClientRect().top") > page.locator(
        "#music-1"
    ).evaluate("e => e.getBoundingClientRect().bottom")
