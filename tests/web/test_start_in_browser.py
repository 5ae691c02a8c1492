"""The first page in Chromium: heard within a click, light, and a folder brought in by a user."""

from __future__ import annotations

import zipfile
from pathlib import Path

from axe import violations
from furnished import FERRY
from playwright.sync_api import Page, Route, expect
from webhouse import KETTLE, House

BROKEN = "X:2\nT:<b>Unclosed</b>\nM:4/4\nL:1/8\nK:G\nG2B[[G dGBg|\n"
MOST_BYTES = 300_000  # of the first page, with all that it fetches
DROP = """text => {
  const dropped = new DataTransfer();
  dropped.items.add(new File([text], "dropped.abc"));
  for (const kind of ["dragenter", "drop"]) {
    document.body.dispatchEvent(
      new DragEvent(kind, {dataTransfer: dropped, bubbles: true, cancelable: true}));
  }
}"""


def test_from_an_empty_shelf_to_tunes_of_one_s_own(
    page: Page, house: House, tmp_path: Path
) -> None:
    # The demo tune sounds and is marked within a click.
    page.goto("/", wait_until="networkidle")
    fetched = page.evaluate(
        "performance.getEntries().reduce((sum, each) => sum + (each.transferSize ?? 0), 0)"
    )
    assert 50_000 < fetched < MOST_BYTES
    page.get_by_role("button", name="Play").click()
    expect(page.locator("#demo-music .sounds").first).to_be_attached()
    expect(page.locator("#demo-music rect.here")).to_have_count(1)
    expect(page.locator("#sounding")).to_contain_text("hole")
    expect(page.locator("#demo-chart .mark-hole")).to_have_count(1)
    page.get_by_role("button", name="Stop").click()
    expect(page.locator("#demo-music .here")).to_have_count(0)
    # On a phone its lines are shorter.
    lines = page.locator("#demo-music svg")
    wide = lines.count()
    page.set_viewport_size({"width": 390, "height": 844})
    expect(lines.nth(wide)).to_be_attached()
    page.set_viewport_size({"width": 1280, "height": 900})
    expect(lines).to_have_count(wide)

    # A folder with a tune, a broken one, and a zip within.
    folder = tmp_path / "my tunes"
    (folder / "old").mkdir(parents=True)
    (folder / "kettle.abc").write_text(KETTLE)
    (folder / "broken.abc").write_text(BROKEN)
    (folder / "shopping.txt").write_text("bread")
    with zipfile.ZipFile(folder / "old/more.zip", "w") as archive:
        archive.writestr("ferry.abc", FERRY)
    page.get_by_label("Or a whole folder").set_input_files(folder)
    page.locator("#files").get_by_role("button", name="Add the files").click()
    expect(page.get_by_text("2 tunes were added")).to_be_visible(timeout=30_000)
    told = page.locator("section", has=page.get_by_role("heading", name="Not added"))
    expect(told.locator("li")).to_have_count(1)
    expect(told).to_contain_text("my tunes/broken.abc, line 6, column 4: <b>Unclosed</b>")
    assert not violations(page)
    page.reload()
    expect(page.get_by_role("link", name="The Kettle on the Landing")).to_be_visible()

    # Pasted with an error: told beside it, and pointed to.
    page.goto("/")
    page.get_by_label("Or paste ABC").fill(BROKEN)
    page.locator("#paste").get_by_role("button", name="Add the ABC").click()
    page.get_by_role("button", name="line 6, column 4").click()
    assert page.evaluate(
        "(() => { const t = document.getElementById('abc');"
        " return [document.activeElement.id, t.value.slice(t.selectionStart, t.selectionEnd)]; })()"
    ) == ["abc", "["]
    assert not violations(page)

    # Dropped: sent by its name, and gone to.
    sent: list[bytes] = []

    def answer(route: Route) -> None:
        sent.append(route.request.post_data_buffer or b"")
        route.fulfill(json={"go": "/shelf", "facts": {}})

    page.route("**/import", answer)
    page.evaluate(DROP, KETTLE)
    page.wait_for_url("**/shelf")
    assert b'filename="dropped.abc"' in sent[0]


def test_the_shelf_is_searched_as_one_types_and_gone_through_by_keyboard(
    page: Page, house: House
) -> None:
    for text in (KETTLE, FERRY, KETTLE.replace("Kettle", "Lamp")):
        house.shelve(text)
    page.goto("/shelf", wait_until="networkidle")
    titles = page.locator("#tunes .title")
    expect(titles).to_have_count(3)
    assert page.evaluate(
        "[...document.querySelectorAll('.begins')].every(image => image.naturalWidth > 100)"
    )
    page.keyboard.press("Tab")
    page.get_by_label("Words of the title").focus()
    page.keyboard.type("land")
    expect(titles).to_have_text(["The Kettle on the Landing", "The Lamp on the Landing"])
    expect(page).to_have_url(f"{house.url}/shelf?words=land")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    expect(titles.nth(1)).to_be_focused()
    page.keyboard.press("ArrowUp")
    page.keyboard.press("ArrowUp")
    expect(page.get_by_label("Words of the title")).to_be_focused()
    page.get_by_text("By type, key, harp, notes").click()
    page.get_by_label("Type", exact=True).fill("jig")
    expect(page.get_by_text("Without the type, 2 tunes are found.")).to_be_visible()
    assert not violations(page)
    page.reload()
    expect(page.get_by_label("Type", exact=True)).to_have_value("jig")
    page.get_by_label("Words of the title").fill("")
    expect(titles).to_have_text(["The Ferry at Low Water"])
    page.get_by_label("Words of the title").focus()
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    page.wait_for_url("**/tunes/2")
