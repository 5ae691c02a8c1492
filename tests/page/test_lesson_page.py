"""The lesson page as its reader gets it: checked in the finished PDF by other programs.

`pypdf` reads structure and text, poppler's `pdftotext` (where it is installed) measures type.
"""

from __future__ import annotations

import io
import re
import subprocess
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pypdf
import pytest

from reedwright.errors import ReedwrightError
from reedwright.harp.making import make_harp
from reedwright.page.lesson import lesson_pdf
from reedwright.page.settings import PAPERS, PageSettings
from reedwright.page.tabfont import printed
from reedwright.player.loading import load_profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.notation import tab_rows
from reedwright.tab.ornaments.model import Amount
from reedwright.tab.wishes import Wishes
from reedwright.tune.model import BarLine, Field, Place, Tune, Voice
from reedwright.tune.reading import read_tunes

EXAMPLES = Path(__file__).parents[2] / "examples" / "tunes.abc"
STYLES = ("arrows", "signs", "rows")
HARPS = ("G", "D", "D", "D", "A", "G", "C")  # of the example tunes, in order
SMALLEST_TAB, SMALLEST_GRACE = 9.0, 7.0  # points; issue 2, and our own rule for graces


def example(index: int) -> Tune:
    tunes = [tune for tune in read_tunes(EXAMPLES) if isinstance(tune, Tune)]
    return tunes[index]


def arranged(tune: Tune, harp: str = "G", profile: str = "all-techniques") -> Arrangement:
    return arrange(tune, make_harp(harp, "richter-raised-3-blow"), load_profile(profile))


def written_out(tune: Tune, bars: int) -> Tune:
    """A tune of so many full bars, without repeats, made of another's."""
    source = [b for b in tune.bars if b.number and len(b.ending) < 1]
    made = []
    for index in range(bars):
        bar = source[index % len(source)]
        events = tuple(
            replace(
                event,
                id=f"w{index}n{number}",
                graces=tuple(
                    replace(grace, id=f"w{index}n{number}g{count}")
                    for count, grace in enumerate(event.graces)
                ),
            )
            if hasattr(event, "graces")
            else replace(event, id=f"w{index}n{number}")
            for number, event in enumerate(bar.events)
        )
        last = index == bars - 1
        made.append(
            replace(
                bar,
                index=index,
                number=index + 1,
                events=events,
                repeat_open=False,
                repeat_close=0,
                ending=(),
                ending_last=False,
                part=None,
                opening=BarLine.NONE,
                closing=BarLine.FINAL if last else BarLine.SINGLE,
            )
        )
    return replace(tune, voices=(Voice("1", tuple(made)),))


def reader(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def texts_with_sizes(pdf: bytes) -> list[tuple[str, float, str]]:
    """Every run of text with its size in points on paper and its font, in the file's order."""
    found: list[tuple[str, float, str]] = []

    def visit(text, outer, matrix, font, size) -> None:
        if text.strip() and font:
            # Both matrices are plain scalings here; their product takes the size to paper.
            scale = abs(matrix[3] * outer[3])
            found.append((text.strip(), size * scale, str(font["/BaseFont"])))

    for page in reader(pdf).pages:
        page.extract_text(visitor_text=visit)
    return found


def tab_sizes(pdf: bytes) -> list[float]:
    return [size for _, size, font in texts_with_sizes(pdf) if "ReedwrightTab" in font]


def in_order(parts: list[str], text: str) -> bool:
    place = 0
    for part in parts:
        place = text.find(part, place)
        if place < 0:
            return False
        place += len(part)
    return True


@pytest.fixture(scope="module")
def reel() -> Arrangement:
    return arranged(example(0))


@pytest.fixture(scope="module")
def reel_pdf(reel: Arrangement) -> bytes:
    return lesson_pdf(reel)


def tab_in_written_order(arrangement: Arrangement) -> Iterator[str]:
    (row,) = tab_rows(arrangement, "arrows")
    for note in arrangement.tune.bars and arrangement.tune.voices[0].notes:
        for id_ in (*(grace.id for grace in note.graces), note.id):
            if row.texts.get(id_):
                yield printed(row.texts[id_])


def test_text_layer_holds_title_and_tab_in_order(reel: Arrangement, reel_pdf: bytes) -> None:
    tab = list(tab_in_written_order(reel))
    assert len(tab) > 100
    runs = [text for text, _, font in texts_with_sizes(reel_pdf) if "ReedwrightTab" in font]
    letters = "".join("".join(runs).split())
    assert in_order(["".join(tab)], letters), "every sign, in the order of the notes"
    whole = "".join(page.extract_text() for page in reader(reel_pdf).pages)
    assert in_order(["The Reedmaker's Latch", "G major", "Composed for Reedwright"], whole)


def test_poppler_reads_title_and_tab_in_order(reel: Arrangement, reel_pdf: bytes) -> None:
    text = subprocess.run(
        ["pdftotext", "-raw", "-", "-"], input=reel_pdf, capture_output=True, check=True
    ).stdout.decode()
    (first_line, rest) = text.split("\n", 1)
    assert first_line.strip() == "The Reedmaker's Latch"
    signs = [word for word in rest.split() if re.fullmatch(r"\d+[↑↓]\S*", word)]
    assert "".join(tab_in_written_order(reel)) in "".join(signs)


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("style", STYLES)
def test_thirty_two_written_bars_fit_one_page(paper: str, style: str) -> None:
    arrangement = arranged(written_out(example(0), 32), profile="first-year")
    pdf = lesson_pdf(arrangement, PageSettings(paper=paper, tab_style=style))
    assert len(reader(pdf).pages) == 1
    assert min(tab_sizes(pdf)) >= SMALLEST_GRACE - 0.01


@pytest.mark.parametrize("index", range(7))
def test_each_example_fits_one_page_with_tab_of_readable_size(index: int) -> None:
    """Tab of notes at least 9 points, of grace notes at least 7, measured in the PDF."""
    arrangement = arranged(example(index), HARPS[index])
    pdf = lesson_pdf(arrangement, PageSettings(tab_style=STYLES[index % 3]))
    assert len(reader(pdf).pages) == 1
    sizes = tab_sizes(pdf)
    graces = sum(len(note.graces) for note in arrangement.tune.voices[0].notes)
    # The key to the tab, at the end, has a sign or two of smaller type.
    small = [size for size in sizes if size < SMALLEST_TAB - 0.01]
    assert min(sizes) >= SMALLEST_GRACE - 0.01
    assert len(small) <= graces + 6


def test_the_breath_account_stands_under_the_tune_on_request(reel: Arrangement) -> None:
    pages = reader(lesson_pdf(reel, PageSettings(breath_plot=True))).pages
    text = "".join(page.extract_text() for page in pages)
    assert "comfortable" in text and "At 55 per cent" in text
    assert "comfortable" not in reader(lesson_pdf(reel)).pages[0].extract_text()


def test_a_tune_with_too_much_for_a_page_has_its_music_whole_on_the_first() -> None:
    wishes = Wishes(amount=Amount.FULL, second_time=True)
    player = load_profile("player")
    found = arrange(example(0), make_harp("G", "richter-raised-3-blow"), player, wishes=wishes)
    first, second = reader(lesson_pdf(found, PageSettings(breath_plot=True))).pages
    assert "Reading the tab" in first.extract_text()
    assert "comfortable" not in first.extract_text()  # the words have a page of their own
    assert "comfortable" in second.extract_text()


@pytest.mark.parametrize("index", range(7))
def test_music_is_set_large_where_there_is_room(index: int) -> None:
    """Read at arm's length on a stand: tab of 11 points at the least for these 8 to 32 bars."""
    pdf = lesson_pdf(arranged(example(index), HARPS[index]))
    assert len(reader(pdf).pages) == 1
    sizes = sorted(tab_sizes(pdf))
    assert 11 <= sizes[len(sizes) // 2] <= 13


@pytest.mark.parametrize("index", [0, 3])
def test_a_page_of_thirty_two_bars_is_filled(index: int) -> None:
    """At most a sixth of the page stays blank between the words and the footer."""
    page = reader(lesson_pdf(arranged(example(index), HARPS[index]))).pages[0]
    heights: list[float] = []

    def visit(text, outer, matrix, font, size) -> None:
        if text.strip() and font:
            heights.append(matrix[5] * outer[3] + outer[5])

    page.extract_text(visitor_text=visit)
    heights.sort()
    footer = heights[0]
    lowest = min(height for height in heights if height > footer + 15)
    assert lowest - footer < 842 / 6


def test_no_word_of_the_page_is_smaller_than_seven_points(reel_pdf: bytes) -> None:
    """The counts in the chart above all."""
    words = [(size, text) for text, size, font in texts_with_sizes(reel_pdf) if "Liber" in font]
    assert len(words) > 50
    assert min(words)[0] >= 7.0
    # B, 5 blow, is played 46 times; figures of the chart are runs of one letter each.
    assert "46" in "".join(text for size, text in words if size < 8)


def test_pages_after_the_first_have_a_running_head_with_their_number() -> None:
    pages = reader(lesson_pdf(arranged(written_out(example(0), 64), profile="first-year"))).pages
    first, second = pages[:2]
    head = second.extract_text()[:120]
    assert "The Reedmaker's Latch" in head
    assert f"2 of {len(pages)}" in second.extract_text()
    assert f"1 of {len(pages)}" in first.extract_text()


@pytest.mark.parametrize("bars", [1, 2])
def test_the_shortest_tunes_have_a_page(bars: int) -> None:
    pdf = lesson_pdf(arranged(written_out(example(0), bars), profile="first-year"))
    assert len(reader(pdf).pages) == 1
    assert max(tab_sizes(pdf)) <= 13


@pytest.mark.parametrize("paper", PAPERS)
def test_page_has_the_size_of_its_paper(reel: Arrangement, paper: str) -> None:
    """ISO 216 and ANSI sizes, in points of 1/72 inch."""
    box = reader(lesson_pdf(reel, PageSettings(paper=paper))).pages[0].mediabox
    sizes = {"a4": (595.28, 841.89), "letter": (612.0, 792.0)}
    assert (float(box.width), float(box.height)) == pytest.approx(sizes[paper], abs=0.1)


def test_pdf_is_tagged_and_claims_pdf_ua(reel_pdf: bytes) -> None:
    """ISO 14289-1: marked content, language, title shown, and the claim in its XMP."""
    root = reader(reel_pdf).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712 (a PDF object)
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712
    assert "/StructTreeRoot" in root
    assert b"pdfuaid:part" in root["/Metadata"].get_data()


def test_every_picture_has_a_text_alternative(reel_pdf: bytes) -> None:
    root = reader(reel_pdf).trailer["/Root"]
    figures = [e for e in _elements(root["/StructTreeRoot"]) if e.get("/S") == "/Figure"]
    assert len(figures) >= 5  # four systems at least, and the chart
    alternatives = [str(figure.get("/Alt", "")) for figure in figures]
    assert all(alternatives)
    assert "The Reedmaker's Latch" in alternatives[0]
    assert any(text.startswith("Chart of the G harp") for text in alternatives)


def _elements(element) -> Iterator[pypdf.generic.DictionaryObject]:
    kids = element.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        kid = kid.get_object()
        if isinstance(kid, pypdf.generic.DictionaryObject):
            yield kid
            yield from _elements(kid)


def test_title_and_author_are_set(reel_pdf: bytes) -> None:
    info = reader(reel_pdf).metadata
    assert info.title.startswith("The Reedmaker's Latch")
    assert info.author == "Composed for Reedwright"


def test_all_fonts_are_embedded(reel_pdf: bytes) -> None:
    fonts = {}
    for page in reader(reel_pdf).pages:
        _collect_fonts(page["/Resources"], fonts)
    assert any("ReedwrightTab" in name for name in fonts)
    assert any("LibertinusSerif" in name for name in fonts)
    assert all(fonts.values()), fonts


def _collect_fonts(resources, fonts: dict[str, bool]) -> None:
    for font in (resources.get("/Font") or {}).values():
        font = font.get_object()
        inner = font["/DescendantFonts"][0].get_object() if "/DescendantFonts" in font else font
        descriptor = inner["/FontDescriptor"].get_object()
        fonts[str(font["/BaseFont"])] = any(
            key in descriptor for key in ("/FontFile", "/FontFile2", "/FontFile3")
        )
    for form in (resources.get("/XObject") or {}).values():
        form = form.get_object()
        if "/Resources" in form:
            _collect_fonts(form["/Resources"], fonts)


def test_same_bytes_twice(reel: Arrangement, reel_pdf: bytes) -> None:
    assert lesson_pdf(reel) == reel_pdf


def test_long_tune_flows_over_pages_with_its_title_on_each() -> None:
    tune = replace(
        written_out(example(0), 80),
        titles=(
            "A Very Long Title that Says Much about the Schoolmaster and His Daughters",
            "Short",
        ),
        fields=(Field("N", "A long story. " * 80, Place(1, 1)),),
    )
    pages = reader(lesson_pdf(arranged(tune, profile="first-year"))).pages
    assert len(pages) >= 2
    for page in pages:
        assert "Schoolmaster" in page.extract_text()
    assert "also called Short" in pages[0].extract_text()


def test_missing_notes_are_shown_and_explained() -> None:
    arrangement = arrange(
        example(0), make_harp("G", "richter"), load_profile("first-year"), octaves=2
    )
    assert arrangement.missing
    text = "".join(page.extract_text() for page in reader(lesson_pdf(arrangement)).pages)
    assert text.count("×") >= len(arrangement.missing)
    assert "not on this harp" in text


def test_rights_and_source_are_told() -> None:
    tune = example(0)
    stated = reader(lesson_pdf(arranged(tune))).pages[0].extract_text()
    assert "Released under CC0 1.0" in stated
    bare = replace(tune, fields=(Field("S", "Mary, at a session", Place(1, 1)),))
    text = reader(lesson_pdf(arranged(bare))).pages[0].extract_text()
    assert "Rights not stated." in text
    assert "Source: Mary, at a session." in text
    assert "traditional" in text


def test_odd_texts_neither_break_the_page_nor_run_as_code() -> None:
    title = '#panic() $x$ <b> & \\ [*_*] @a "é" 漢'
    tune = replace(example(0), titles=(title,), type="", tempo=None)
    text = reader(lesson_pdf(arranged(tune))).pages[0].extract_text()
    assert "#panic() $x$ <b> &" in text


def test_letters_that_no_font_has_are_no_fault_of_the_tune() -> None:
    tune = replace(example(0), titles=("Unassigned \U000e1234 and \U000e1235",))
    text = reader(lesson_pdf(arranged(tune))).pages[0].extract_text()
    assert "Unassigned ? and ?" in text


def test_a_teachers_own_template_is_used(reel: Arrangement, tmp_path: Path) -> None:
    template = tmp_path / "own.typ"
    template.write_text(
        "#let lesson = json(bytes(sys.inputs.lesson))\n"
        "#set document(title: lesson.title)\n"
        "= Lesson of the week: #lesson.title\n"
        '#for s in lesson.systems { image(bytes(s.svg), format: "svg", alt: s.alt) }\n'
    )
    text = reader(lesson_pdf(reel, PageSettings(template=template))).pages[0].extract_text()
    assert "Lesson of the week: The Reedmaker's Latch" in text


def test_template_faults_are_told_without_a_traceback(reel: Arrangement, tmp_path: Path) -> None:
    template = tmp_path / "broken.typ"
    template.write_text("#let x = \n#nonsense()")
    with pytest.raises(ReedwrightError, match=r"broken\.typ"):
        lesson_pdf(reel, PageSettings(template=template))
    with pytest.raises(ReedwrightError, match=r"none\.typ"):
        lesson_pdf(reel, PageSettings(template=tmp_path / "none.typ"))


def test_unknown_paper_is_refused() -> None:
    with pytest.raises(ReedwrightError, match="a4, letter"):
        PageSettings(paper="a0")
