"""The pack's page: its preview is the page that is printed, and the pack is that of the command."""

from __future__ import annotations

import base64
import io
import json
import zipfile
from pathlib import Path
from typing import Any

import pypdf
import pytest
from fastapi.testclient import TestClient
from PIL import Image
from test_jobs_told import over
from webhouse import KETTLE, House

from reedwright.page.lesson import lesson_pdf
from reedwright.shelf.belongings.arrangements import keep_choices
from reedwright.shelf.belongings.files import keep_take
from reedwright.shelf.belongings.harps import keep_harp
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.model import Item, Kind
from reedwright.tab.choices.model import TuneChoices

Client = tuple[TestClient, House]
LONG = KETTLE.replace("T:The Kettle on the Landing", "T:The Long Kettle").replace(
    "|:g2fg", "|:" + "G2BG dGBG|c2ec BGAF|" * 26 + "g2fg"
)


def previewed(browser: TestClient, tune: Item, **asked: object) -> dict[str, Any]:
    answer = browser.post(f"/tunes/{tune.id}/pack/preview", json=asked)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def picture(found: dict[str, Any]) -> Image.Image:
    kind, _, data = found["picture"].partition(",")
    assert kind == "data:image/png;base64"
    return Image.open(io.BytesIO(base64.b64decode(data))).convert("L")


def made(browser: TestClient, tune: Item, **asked: object) -> dict[str, Any]:
    answer = browser.post(f"/tunes/{tune.id}/pack/make", json=asked)
    assert answer.status_code == 200, answer.text
    desk = browser.app.state.desk  # type: ignore[attr-defined]
    job = over(browser, desk.jobs.job(answer.json()["name"]))
    found: dict[str, Any] = browser.get(f"/jobs/{job.name}").json()
    return found


def test_the_preview_has_the_pages_of_the_pdf_and_follows_the_settings(client: Client) -> None:
    browser, house = client
    tune, short = house.shelve(LONG), house.shelve()
    # A4 is 210 x 297 mm (ISO 216), letter 8.5 x 11 inches (ANSI/ASME Y14.1).
    for number, paper, width, height in (
        (tune, "a4", 210 / 25.4, 297 / 25.4),
        (short, "letter", 8.5, 11.0),
    ):
        found = previewed(browser, number, paper=paper)
        query = f"paper={paper}&tempo=&balance=&amount="
        pdf = browser.get(f"/tunes/{number.id}/pack/page.pdf?{query}")
        reader = pypdf.PdfReader(io.BytesIO(pdf.content))
        assert found["pages"] == len(reader.pages) == (2 if number is tune else 1)
        box = reader.pages[0].mediabox
        assert float(box.width) / 72 == pytest.approx(width, abs=0.01)
        drawn = picture(found)
        assert drawn.size == (found["width"], found["height"])
        assert drawn.width / drawn.height == pytest.approx(width / height, rel=0.002)
    first, last = previewed(browser, tune), previewed(browser, tune, page=999)
    assert last["page"] == last["pages"]
    assert picture(last).tobytes() != picture(first).tobytes()
    assert "The Long Kettle" in first["words"]


def test_what_is_changed_about_the_tune_is_seen_at_once(client: Client) -> None:
    browser, house = client
    tune = house.shelve()
    first = previewed(browser, tune)["picture"]
    with open_shelf(house.settings.shelf) as shelf:
        shelf.revise(tune.id, KETTLE.replace("The Kettle", "The Pan"))
    renamed = previewed(browser, tune)
    assert renamed["picture"] != first and "The Pan" in renamed["words"]
    with open_shelf(house.settings.shelf) as shelf:
        shelf.revise(tune.id, KETTLE.replace("The Kettle", "The Pan").replace("G2BG", "G2dG"))
    assert previewed(browser, tune)["picture"] != renamed["picture"]
    with open_shelf(house.settings.shelf) as shelf:
        keep_choices(shelf, tune.id, TuneChoices(harp="low D"))
    moved = previewed(browser, tune)
    assert (moved["harp"], moved["picture"] == renamed["picture"]) == ("low D harp", False)
    with open_shelf(house.settings.shelf) as shelf:
        keep_choices(shelf, tune.id, TuneChoices())
        keep_harp(shelf, "mine", "Bb")
    assert previewed(browser, tune)["harp"] == "Bb harp"


def test_every_setting_of_the_page_changes_the_picture(client: Client) -> None:
    browser, house = client
    tune = house.shelve()
    usual = picture(previewed(browser, tune)).tobytes()
    assert usual == picture(previewed(browser, tune)).tobytes()
    for changed in (
        {"tab_style": "rows"},
        {"tempo": 61},
        {"breath_plot": True},
        {"amount": "full"},
        {"second_time": "yes"},
    ):
        assert picture(previewed(browser, tune, **changed)).tobytes() != usual, changed


def test_the_page_to_print_is_the_lesson_to_the_byte(client: Client) -> None:
    from reedwright.web.pack.asked import PageAsked, wanted_arrangement

    browser, house = client
    tune = house.shelve()
    answer = browser.get(f"/tunes/{tune.id}/pack/page.pdf?tab_style=signs&breath_plot=true")
    from reedwright.web.music.opening import opened

    asked = PageAsked(tab_style="signs", breath_plot=True)
    with open_shelf(house.settings.shelf) as shelf:
        arrangement = wanted_arrangement(shelf, opened(shelf, tune.id), asked)
        hasty = wanted_arrangement(shelf, opened(shelf, tune.id), PageAsked(tempo=600))
    assert answer.content == lesson_pdf(arrangement, asked.page_settings())
    assert hasty.effort > arrangement.effort  # the tempo asked for is that of the arrangement
    assert answer.headers["content-disposition"].startswith("inline")


def test_a_pack_is_made_kept_and_had_again_file_by_file(client: Client) -> None:
    browser, house = client
    tune = house.shelve()
    job = made(browser, tune, speeds=[60], no_count_in=True)
    assert job["standing"] == "done", job
    folder = house.settings.made / "the-kettle-on-the-landing"
    about = json.loads((folder / "manifest.json").read_text())
    assert about["settings"]["speeds_percent"] == [60]
    assert about["settings"]["count_in"] is False
    with open_shelf(house.settings.shelf) as shelf:
        (kept,) = shelf.items(Kind.PACK)
    address = f"/tunes/{tune.id}/pack/kept/{kept.id}"
    zipped = browser.get(address)
    assert zipped.content == (house.settings.made / f"{folder.name}.zip").read_bytes()
    names = {Path(name).name for name in zipfile.ZipFile(io.BytesIO(zipped.content)).namelist()}
    assert names == {path.name for path in folder.iterdir()}
    assert set(job["files"]) == names | {f"{folder.name}.zip"}
    page = browser.get(f"/tunes/{tune.id}/pack").text
    for name in names - {"manifest.json"}:
        assert browser.get(f"{address}/{name}").content == (folder / name).read_bytes()
        assert f'href="{address}/{name}"' in page

    # A player of sound asks for parts (RFC 9110, 14.2 and 15.5.17).
    sound = f"{address}/{folder.name}.mp3"
    whole = browser.get(sound).content
    part = browser.get(sound, headers={"range": "bytes=1000-1999"})
    assert (part.status_code, part.content) == (206, whole[1000:2000])
    assert part.headers["content-range"] == f"bytes 1000-1999/{len(whole)}"
    assert browser.get(sound, headers={"range": "bytes=-10"}).content == whole[-10:]
    assert browser.get(sound, headers={"range": f"bytes={len(whole)}-"}).status_code == 416
    for name in ("..%2f..%2fshelf.db", "manifest.json%00", "the-kettle-on-the-landing"):
        assert browser.get(f"{address}/{name}").status_code == 404
    other = house.shelve(KETTLE)
    assert browser.get(f"/tunes/{other.id}/pack/kept/{kept.id}").status_code == 404


def test_one_tunes_pack_takes_its_own_earlier_ones_place_and_no_others(client: Client) -> None:
    from reedwright.shelf.belongings.files import keep_pack
    from reedwright.shelf.facts.reading import tune_of
    from reedwright.web.pack.kept import keep, name_for

    _, house = client
    first, second = house.shelve(), house.shelve()
    zip_file = house.settings.made / "the-kettle-on-the-landing.zip"
    zip_file.parent.mkdir()
    zip_file.write_bytes(b"one")
    with open_shelf(house.settings.shelf) as shelf:
        tune = tune_of(shelf, first)
        assert name_for(shelf, first, tune) == zip_file.stem
        kept = keep_pack(shelf, first.id, zip_file)
        assert name_for(shelf, first, tune) == zip_file.stem
        assert name_for(shelf, second, tune) == f"{zip_file.stem}-1"  # told apart by X:
        assert keep(shelf, first.id, zip_file).state.number == 1  # nothing new
        zip_file.write_bytes(b"two")
        again = keep(shelf, first.id, zip_file)
        assert (again.id, again.state.number) == (kept.id, 2)
        assert shelf.attachments.path(again.state.attachment).read_bytes() == b"two"
        assert shelf.undo(kept.id).state.attachment == kept.state.attachment


def test_a_take_that_is_not_this_tunes_is_refused_and_so_is_what_makes_no_sense(
    client: Client, tmp_path: Path
) -> None:
    browser, house = client
    tune, other = house.shelve(), house.shelve()
    recording = tmp_path / "take.wav"
    recording.write_bytes(b"RIFF")
    with open_shelf(house.settings.shelf) as shelf:
        take = keep_take(shelf, other.id, recording)
    job = made(browser, tune, take=take.id)
    assert (job["standing"], "no such take" in job["message"]) == ("failed", True)
    assert not house.settings.made.exists() or not any(house.settings.made.iterdir())
    for wrong in (
        {"paper": "a3"},
        {"tempo": 1e308},
        {"speeds": [10]},
        {"speeds": [50] * 9},
        {"take": 10**30},
        {"played_by": "x" * 121},
        {"balance": -1},
        {"page": 0},
    ):
        assert browser.post(f"/tunes/{tune.id}/pack/preview", json=wrong).status_code == 422, wrong
    for path in ("/tunes/999/pack", "/tunes/999/pack/page.pdf", "/tunes/999/pack/kept"):
        assert browser.get(path).status_code == 404
    assert browser.post("/tunes/999/pack/make", json={}).status_code == 404
    assert browser.get(f"/tunes/{10**30}/pack").status_code == 422


def test_rights_and_cautions_are_shown_before_it_is_made_and_texts_are_texts(
    client: Client,
) -> None:
    browser, house = client
    title = '<img src=x onerror="alert(1)">'
    tune = house.shelve(KETTLE.replace("The Kettle on the Landing", title))
    page = browser.get(f"/tunes/{tune.id}/pack").text
    assert "Rights were not stated" in page and "light-headed" in page
    assert "<img src=x" not in page and "&lt;img src=x" in page
    stated = house.shelve(KETTLE.replace("R:reel", "N:(c) 2026 A. Fenwick, may be copied\nR:reel"))
    assert "A. Fenwick" in browser.get(f"/tunes/{stated.id}/pack").text
