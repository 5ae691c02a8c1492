"""From settings to files in a browser: the page follows, the job outlives a reload, the pack opens.

Files are opened by outside readers: pypdf, mutagen, mido.
"""

from __future__ import annotations

import io
import re
import zipfile
from pathlib import Path

import mido
import mutagen.mp3
import pypdf
import pytest
from axe import violations
from furnished import FERRY
from playwright.sync_api import Locator, Page, expect
from webhouse import KETTLE, House


def _shown(page: Page) -> str:
    expect(page.locator("#state")).to_contain_text("Page")
    return str(page.locator("#picture").get_attribute("src"))


def _drag_by_touch(page: Page, handle: str, goal: Locator) -> None:
    start = page.get_by_role("button", name=handle, exact=True)
    start.scroll_into_view_if_needed()
    one, other = start.bounding_box(), goal.bounding_box()
    assert one is not None and other is not None
    x, y = one["x"] + one["width"] / 2, one["y"] + one["height"] / 2
    fingers = page.context.new_cdp_session(page)

    def touch(what: str, *at: dict[str, float]) -> None:
        fingers.send("Input.dispatchTouchEvent", {"type": what, "touchPoints": list(at)})

    touch("touchStart", {"x": x, "y": y})
    for share in (0.3, 0.6, 1.0):
        touch("touchMove", {"x": x, "y": y + share * (other["y"] + 2 - y)})
    touch("touchEnd")


def _changed(page: Page, before: str) -> str:
    page.wait_for_function(
        "before => document.getElementById('picture').src !== before", arg=before
    )
    return str(page.locator("#picture").get_attribute("src"))


@pytest.mark.no_cover
def test_a_pack_from_its_settings_to_its_files(page: Page, house: House) -> None:
    tune, other = house.shelve(), house.shelve(FERRY)
    page.goto(f"/tunes/{tune.id}/pack")
    expect(page.get_by_role("button", name="Next page")).to_be_disabled()
    expect(page.locator("#state")).to_have_text("Page 1 of 1")
    first = _shown(page)
    page.get_by_label("How the tab is written").select_option("rows")
    second = _changed(page, first)
    page.get_by_label("Tempo, quarter notes a minute").fill("5")
    expect(page.locator("#state")).to_contain_text("from 10 to 1000")
    page.get_by_label("Tempo, quarter notes a minute").fill("70")
    third = _changed(page, second)
    page.get_by_label("Slower and faster tracks").fill("50, 75")

    # Typing fast: one picture, that of the last letter.
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url) if "preview" in request.url else 0)
    page.get_by_label("Tempo, quarter notes a minute").press_sequentially("123456"[:1], delay=10)
    _changed(page, third)
    assert len(asked) == 1
    page.get_by_label("Tempo, quarter notes a minute").fill("70")

    # Stopped, it leaves nothing; the page says so.
    page.get_by_label("The hardest bars as loops").check()
    page.get_by_role("button", name="Make the pack").click()
    job = page.locator("#pack-jobs reedwright-job")
    expect(job.locator("progress")).to_be_visible()
    page.get_by_role("button", name="Stop: Pack of The Kettle on the Landing").press("Enter")
    expect(job).to_contain_text("stopped")
    expect(job.locator(":focus")).to_contain_text("stopped")  # who stood on Stop stands there
    told = "Pack of The Kettle on the Landing: stopped."
    expect(job.get_by_role("status")).to_have_text(told)  # spoken; the steps before were not
    assert not house.settings.made.exists() or not any(house.settings.made.iterdir())

    # Made, and the page is loaded anew while the job is at work.
    page.get_by_role("button", name="Make the pack").click()
    expect(job.locator("progress")).to_be_visible()
    page.reload()
    expect(page.get_by_label("How the tab is written")).to_have_value("rows")
    expect(page.get_by_label("Slower and faster tracks")).to_have_value("50, 75")
    expect(job).to_contain_text("done", timeout=60_000)
    expect(job).to_contain_text("no bars stand out as hard")
    expect(page.locator(".kept-pack")).to_have_count(1)
    assert not violations(page)
    page.goto("/jobs")
    expect(page.locator("#jobs > li")).to_have_count(2)
    page.get_by_role("button", name="Take out what has ended").click()
    expect(page.locator("#jobs > li")).to_have_count(0)

    # The next tune has the settings last used; of this one's tempo it knows nothing.
    page.goto(f"/tunes/{other.id}/pack")
    expect(page.get_by_label("How the tab is written")).to_have_value("rows")
    expect(page.get_by_label("Tempo, quarter notes a minute")).to_have_value("")

    page.goto(f"/tunes/{tune.id}/pack")
    with page.expect_download() as download:
        page.get_by_role("link", name=re.compile("^Download .*zip")).click()
    archive = zipfile.ZipFile(io.BytesIO(Path(download.value.path()).read_bytes()))
    files = {Path(name).name: archive.read(name) for name in archive.namelist()}
    name = "the-kettle-on-the-landing"
    text = pypdf.PdfReader(io.BytesIO(files[f"{name}.pdf"])).pages[0].extract_text()
    assert "The Kettle on the Landing" in text and "35" in text  # 70 crotchets are 35 minims
    lengths = {}
    for track in (f"{name}.mp3", f"{name}-slow-50.mp3", f"{name}-slow-75.mp3"):
        lengths[track] = mutagen.mp3.MP3(io.BytesIO(files[track])).info.length
    whole, half, three_quarters = lengths.values()
    assert half == pytest.approx(2 * whole, rel=0.05)
    assert three_quarters == pytest.approx(whole / 0.75, rel=0.05)
    midi = mido.MidiFile(file=io.BytesIO(files[f"{name}.mid"]))
    assert any(message.type == "note_on" for message in midi)

    # The sound can be played in the page, from its middle too.
    page.locator("audio").first.evaluate("sound => sound.load()")
    sound = page.locator(f'audio[src*="{name}.mp3"]')
    length = sound.evaluate(
        "sound => new Promise(done => { sound.onloadedmetadata = () => done(sound.duration);"
        " sound.preload = 'metadata'; sound.load(); })"
    )
    assert length == pytest.approx(whole, abs=0.2)


@pytest.mark.no_cover
def test_a_book_in_the_browser_by_keys_alone_and_in_two_tabs(
    page: Page, house: House, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("REEDWRIGHT_STOCK", str(tmp_path / "stock"))
    house.shelve(KETTLE)
    house.shelve(FERRY)
    page.goto("/books")
    page.get_by_label("Title", exact=True).fill("Winter & <b>Summer</b>")
    page.get_by_label("Title", exact=True).press("Enter")
    expect(page.get_by_role("heading", level=1)).to_have_text("Winter & <b>Summer</b>")
    first = _shown(page)
    page.get_by_role("button", name="Down: The Kettle on the Landing").press("Enter")
    expect(page.locator("#parts > li").first).to_contain_text("The Ferry")
    expect(page.locator("#parts-said")).to_have_text("The Kettle on the Landing: now 2 of 2.")
    focused = "document.activeElement.getAttribute('aria-label')"
    assert page.evaluate(focused) == "Up: The Kettle on the Landing"
    page.keyboard.press("Alt+ArrowUp")
    expect(page.locator("#parts > li").first).to_contain_text("The Kettle")
    _drag_by_touch(page, "Move The Ferry at Low Water", page.locator("#parts > li").first)
    expect(page.locator("#parts > li").first).to_contain_text("The Ferry")
    page.get_by_role("button", name="Show: The Ferry at Low Water").click()
    second = _changed(page, first)
    alt = page.locator("#picture").get_attribute("alt")
    assert alt is not None and "The Ferry at Low Water" in alt
    page.get_by_label("Go to").select_option("Cover")
    _changed(page, second)
    expect(page.locator("#saved")).to_have_text("Saved.")

    # Another tab changes the title; this one changes the maker: neither is lost.
    other = page.context.new_page()
    other.goto(page.url)
    expect(other.locator("#parts > li").first).to_contain_text("The Ferry")
    other.get_by_label("Title", exact=True).fill("Spring")
    expect(other.locator("#saved")).to_have_text("Saved.")
    other.close()
    page.get_by_role("button", name="Undo", exact=True).click()  # of what this page has not seen
    expect(page.locator("#trouble")).to_contain_text("was changed meanwhile")
    page.get_by_label("Who made the book").fill("Ada Fenwick")
    expect(page.locator("#trouble")).to_contain_text("was changed meanwhile")
    page.get_by_role("button", name="Keep mine").click()
    expect(page.locator("#trouble")).to_be_hidden()
    expect(page.locator("#saved")).to_have_text("Saved.")
    page.get_by_role("button", name="Undo", exact=True).click()
    expect(page.get_by_label("Title", exact=True)).to_have_value("Spring")
    page.get_by_role("button", name="Redo", exact=True).click()
    expect(page.get_by_label("Who made the book")).to_have_value("Ada Fenwick")
    assert not violations(page)

    page.get_by_role("button", name="Make the book").click()
    expect(page.locator("#book-jobs")).to_contain_text("done", timeout=60_000)
    expect(page.locator("#book-report")).to_contain_text("2 tunes on")
    with page.expect_download() as download:
        page.locator("#made-book a").first.click()
    pdf = pypdf.PdfReader(download.value.path())
    assert pdf.metadata is not None and pdf.metadata.author == "Ada Fenwick"
