"""One tune of a book: how it fits its pages, and that its drawings stay what they were."""

from __future__ import annotations

import io
import itertools
import json
import random
import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from reedwright.harp.making import make_harp
from reedwright.page.book.entries import tune_entry
from reedwright.page.book.flow import sheets_of
from reedwright.page.book.format import format_of
from reedwright.page.book.model import BookLook
from reedwright.page.book.qr import qr_svg
from reedwright.page.book.slim import slim
from reedwright.page.engraving import Look, System, engrave
from reedwright.page.fitting import LEAST_GAP, MOST_GAP
from reedwright.page.raster import svg_to_png
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.notation import tab_rows
from reedwright.tune.abc import read_tunebook
from reedwright.tune.model import Field, Place, Tune

# Parts, endings, tempo words, dynamics, a trill, grace notes, triplets, chord names, a text.
VARIED = """X:1
T:The Tin Lantern
M:4/4
L:1/8
Q:1/4=100
K:D
D2|:"D"!mf!d2 {e}f2 (3afd A2|"G"!trill!B4 "^soft"A2 z2|1 d2 e2 f2 g2|a4 D4:|2 d8|]
[Q:1/4=140]|:F2 G2 !fermata!A4|B2 c2 d4|[M:3/4]e2 f2 g2|d6:|
"""
STEP = "DEFG ABcd|e2d2 c2BA|FGAB AGFE|D4 A4|"


def arranged(abc: str) -> Arrangement:
    (tune,) = (one for one in read_tunebook(abc.splitlines()) if isinstance(one, Tune))
    return arrange(tune, make_harp("D"), load_profile("all-techniques"))


def of_bars(bars: int) -> Arrangement:
    return arranged("X:1\nT:Long\nM:4/4\nL:1/8\nK:D\n" + STEP * (bars // 4) + "]\n")


def pixels(svg: str) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(svg_to_png(svg, 150.0))).convert("L"))


@pytest.mark.parametrize("style", ["arrows", "rows"])
def test_a_slim_drawing_looks_the_same_to_the_pixel(style: str) -> None:
    arrangement = arranged(VARIED)
    rows = tab_rows(arrangement, style)
    for system in engrave(arrangement.tune, rows, width=140.0, look=Look(5.4, 9.0)):
        light = slim(system.svg)
        assert len(light) < 0.85 * len(system.svg)
        assert np.array_equal(pixels(light), pixels(system.svg))


def test_all_that_a_book_keeps_of_a_tune_can_be_written_as_json() -> None:
    entry = tune_entry("lantern", arranged(VARIED), BookLook(), "https://a.example/1", "Slowly.")
    again = json.loads(json.dumps(entry.page))
    assert again == json.loads(json.dumps(again))
    assert set(again["alone"]) == set(again["shared"]) - {"height"}
    assert (entry.type, entry.key, entry.harp, entry.position) == ("", "D major", "D harp", 1)


def test_an_entry_is_the_same_when_it_is_made_again() -> None:
    made = [tune_entry("a", arranged(VARIED), BookLook(paper="a5")) for _ in range(2)]
    assert made[0] == made[1]


@pytest.mark.parametrize("paper", ["a4", "a5"])
def test_a_long_tune_takes_pages_that_its_systems_fit(paper: str) -> None:
    look = BookLook(paper=paper)
    entry = tune_entry("long", of_bars(76), look)
    sheets = entry.page["alone"]["sheets"]
    room = format_of(look).text_height
    assert len(sheets) >= 2
    assert entry.page["shared"] is None
    for sheet in sheets:
        assert sum(system["height"] + system["gap"] for system in sheet) <= room
    fullest = [sum(system["height"] for system in sheet) / room for sheet in sheets if sheet]
    assert min(fullest) > 0.4  # none has a line or two alone


def test_two_tunes_set_for_half_a_page_fit_one() -> None:
    for paper in ("a4", "letter", "a5"):
        look = BookLook(paper=paper)
        entry = tune_entry("short", of_bars(8), look)
        assert entry.page["shared"]
        assert 2 * entry.height <= format_of(look).text_height
        assert not entry.page["shared"]["below"]["chart"]


def test_without_full_notes_there_is_music_and_the_makers_words_only() -> None:
    arrangement = arranged(VARIED)
    entry = tune_entry("a", arrangement, BookLook(full_notes=False), words="Mind the turn.")
    assert entry.page["notes"] == []
    assert entry.page["words"] == "Mind the turn."
    for way in ("alone", "shared"):
        assert entry.page[way]["below"] == {"chart": False, "notes": 0, "story": ""}
    assert entry.page["alone"]["story_pages"] == []


def test_a_long_story_is_printed_whole_on_pages_of_its_own() -> None:
    words = " ".join(f"Sentence {number} of the story of this tune." for number in range(600))
    arrangement = arranged(VARIED)
    tune = replace(arrangement.tune, fields=(Field("H", words, Place(1, 1)),))
    entry = tune_entry("told", replace(arrangement, tune=tune), BookLook())
    pages = entry.page["alone"]["story_pages"]
    assert len(pages) >= 2
    assert " ".join(piece["text"] for page in pages for piece in page) == words
    assert len(entry.page["alone"]["sheets"]) == 1 + len(pages)


def systems(heights: list[float]) -> list[System]:
    return [System("", 100.0, height, (number,)) for number, height in enumerate(heights)]


@settings(deadline=None)
@given(
    st.lists(st.floats(10, 30), min_size=1, max_size=9),
    st.floats(40, 120),
    st.floats(0, 80),
)
def test_systems_are_shared_out_so_that_the_fullest_page_is_least_full(
    heights: list[float], first: float, words: float
) -> None:
    """Against every way to share them out."""
    room, staff = 120.0, 6.0
    found = sheets_of(systems(heights), staff, first, room, words)
    counts = [len(sheet.systems) for sheet in found]
    assert sum(counts) == len(heights)

    def fill(shares: list[int]) -> float:
        rooms = [first, *[room] * (len(shares) - 1)]
        rooms[-1] -= words
        done, fullest = 0, 0.0
        for share, space in zip(shares, rooms, strict=True):
            high = sum(heights[done : done + share]) + LEAST_GAP * staff * (share - 1)
            fullest = max(fullest, high / space if share and space > 0 else 9.9 * bool(share))
            done += share
        return fullest

    def ways(pages: int) -> list[list[int]]:
        cuts = itertools.combinations(range(1, len(heights)), pages - 1)
        return [np.diff([0, *cut, len(heights)]).tolist() for cut in cuts]

    pages = len(counts)
    for fewer in range(1, pages):
        assert all(fill(way) > 1 + 1e-9 for way in ways(fewer))
    if counts[-1]:
        assert fill(counts) <= min(fill(way) for way in ways(pages)) + 1e-9
    for number, sheet in enumerate(found):
        space = (first if number == 0 else room) - words * (number == pages - 1)
        used = sum(system.height for system in sheet.systems) + sum(sheet.gaps)
        assert used <= space + 1e-6 or not sheet.systems
        assert all(gap <= MOST_GAP * staff + 1e-9 for gap in sheet.gaps)


def with_decoder(svg: str, path: Path) -> str:
    path.write_bytes(svg_to_png(svg, 400.0))
    found = subprocess.run(
        ["zbarimg", "-q", "--raw", "-Sdisable", "-Sqrcode.enable", str(path)],
        capture_output=True,
        check=True,
    )
    return found.stdout.decode().strip()


@pytest.mark.skipif(not shutil.which("zbarimg"), reason="zbar's decoder is not installed")
def test_another_program_reads_the_code_of_every_address(tmp_path: Path) -> None:
    """zbar (zbarimg) is the reference."""
    made = random.Random(7)
    for length in (8, 40, 120):
        tail = "".join(made.choice("abcdefghijkmnpqrstuvwxyz0123456789-/") for _ in range(length))
        address = f"https://a.example/{tail}?x=1&y=2"
        assert with_decoder(qr_svg(address), tmp_path / f"{length}.png") == address


def test_a_letter_that_no_font_has_is_a_question_mark_wherever_the_title_stands() -> None:
    """U+0378 is no letter at all in Unicode 16, so that no font has it."""
    arrangement = arranged(VARIED)
    tune = replace(arrangement.tune, titles=("Sun \u0378 Reel", "O \u0378"))
    entry = tune_entry("a", replace(arrangement, tune=tune), BookLook(two_to_a_page=False))
    assert (entry.title, entry.also, entry.page["title"]) == ("Sun ? Reel", ("O ?",), "Sun ? Reel")
    assert "\u0378" not in json.dumps(entry.page, ensure_ascii=False)


def test_every_line_of_music_says_its_tab_in_words() -> None:
    """Tab by hand, on an ordinary harp in C: its A4 is hole 3 draw, bent a whole tone."""
    abc = "X:1\nT:The Slow Hinge\nM:4/4\nL:1/4\nK:C\nE|C D {d}G A-|A2 z2|]\n"
    (tune,) = (one for one in read_tunebook(abc.splitlines()) if isinstance(one, Tune))
    made = arrange(tune, make_harp("C"), load_profile("all-techniques"))
    (line,) = tune_entry("hinge", made, BookLook()).page["alone"]["sheets"][0]
    first, _, rest = line["alt"].partition(", with tab: ")
    assert first == "Sheet music of The Slow Hinge"
    assert re.sub("2 draw|3 blow", "G4", rest) == (
        "upbeat: 2 blow; bar 1: 1 blow, 1 draw, G4, 3 draw bent 2."
    )


def test_the_lines_of_a_tune_say_all_its_bars_once() -> None:
    sheets = tune_entry("long", of_bars(76), BookLook()).page["alone"]["sheets"]
    told = " ".join(system["alt"] for sheet in sheets for system in sheet)
    assert re.findall(r"bar (\d+):", told) == [str(number) for number in range(1, 77)]


def test_a_code_has_the_quiet_room_around_it_that_the_standard_asks_for() -> None:
    """Four modules on each side, ISO/IEC 18004: the size less that of the code alone, 17 + 4 v."""
    svg = qr_svg("https://example.org/latch.html")
    side = int(re.search(r'viewBox="0 0 (\d+) ', svg)[1])  # type: ignore[index]
    assert (side - 8 - 17) % 4 == 0 and side - 8 >= 21
    starts = [tuple(map(int, each)) for each in re.findall(r"M(\d+) (\d+)h", svg)]
    assert min(x for x, _ in starts) == min(y for _, y in starts) == 4
