"""The whole way in the browser: from an empty shelf to a downloaded pack that others' readers open.

What was changed by hand on the way, a title and a pinned note, is in what comes out.
"""

from __future__ import annotations

import io
import json
import re
import zipfile
from pathlib import Path

import mutagen.mp3
import pypdf
from playwright.sync_api import Page, expect
from tunepages import saved
from webhouse import House

TITLE = "The Latch Lifted"


def test_from_an_empty_shelf_to_an_opened_pack(page: Page, house: House) -> None:
    page.goto("/")
    page.get_by_role("button", name="Open it to change").click()
    page.wait_for_selector("[data-ready]")

    # A title of one's own, with a slip on the way that is marked and mended.
    text = page.locator("#abc")
    whole = text.input_value()
    text.fill(re.sub(r"T:.*", f"T:{TITLE}", whole) + "[CE")
    expect(page.locator("#problems li")).not_to_have_count(0)
    text.fill(re.sub(r"T:.*", f"T:{TITLE}", whole))
    expect(page.locator("#problems li")).to_have_count(0)
    saved(page)
    expect(page.locator("h1")).to_have_text(TITLE)

    # A note pinned to another hole, undone, done again.
    page.locator('#music [data-note="n1"] .notehead').first.click()
    panel = page.locator("#panel")
    button = panel.get_by_role("button", name=re.compile(r"^Pin "))
    button.last.click()
    marks = page.locator("#music .mark-pin")
    expect(marks).to_have_count(1)
    panel.get_by_role("button", name="Close").click()
    page.get_by_role("button", name="Undo").click()
    expect(marks).to_have_count(0)
    page.get_by_role("button", name="Redo").click()
    expect(marks).to_have_count(1)

    # The pack, downloaded and opened.
    page.get_by_role("link", name="Pack", exact=True).click()
    page.get_by_label("Slower and faster tracks").fill("60")
    page.get_by_role("button", name="Make the pack").click()
    expect(page.locator("#pack-jobs reedwright-job")).to_contain_text("done", timeout=60_000)
    with page.expect_download() as download:
        page.get_by_role("link", name=re.compile(r"^Download .*zip")).click()
    with zipfile.ZipFile(io.BytesIO(Path(download.value.path()).read_bytes())) as archive:
        assert archive.testzip() is None
        files = {Path(name).name: archive.read(name) for name in archive.namelist()}
    (pdf,) = [held for name, held in files.items() if name.endswith(".pdf")]
    assert TITLE in pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    sounds = [held for name, held in files.items() if name.endswith(".mp3")]
    assert sorted(round(mutagen.mp3.MP3(io.BytesIO(held)).info.length) for held in sounds)[-1] > 60
    made = json.loads(files["manifest.json"])
    assert made["title"] == TITLE
    assert {each["name"] for each in made["files"]} == set(files) - {"manifest.json"}
    tune = next(held for name, held in files.items() if name.endswith(".abc")).decode()
    assert f"T:{TITLE}" in tune
