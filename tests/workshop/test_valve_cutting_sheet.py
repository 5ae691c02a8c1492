"""The cutting sheet is true to size, tagged, and says all that the bench needs.

Sizes are measured in the finished PDF by poppler: `pdftocairo` turns a page into paths with their
matrices (points of 1/72 inch), `pdftoppm` into pixels. `pypdf` reads structure and text.
"""

import io
import re
import shutil
import subprocess
import xml.etree.ElementTree as ET
from pathlib import Path

import pypdf
import pytest

from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harp
from reedwright.page.cuttingsheet import cutting_sheet_pdf, cutting_sheet_svg, write_cutting_sheet
from reedwright.page.valvedrawing import BAR_LINE, CUT_LINE
from reedwright.workshop.valving.model import PlateMeasures, SlotSizes, ValveError, ValvePlan
from reedwright.workshop.valving.packing import GAP
from reedwright.workshop.valving.planning import plan_valves

MM = 72 / 25.4  # points in a millimetre: a point is 1/72 inch, an inch 25.4 mm (ISO 32000)
TRUE = 0.05  # mm

needs_poppler = pytest.mark.skipif(
    not shutil.which("pdftocairo"), reason="poppler-utils is not installed"
)


@pytest.fixture(scope="module")
def half() -> ValvePlan:
    return plan_valves(parse_harp("C::half"))


@pytest.fixture(scope="module")
def sheet(half: ValvePlan) -> bytes:
    return cutting_sheet_pdf(half)


def boxes(pdf: bytes, folder: Path, line: float) -> list[tuple[float, float, float, float]]:
    """Left, top, width, height in mm of what is drawn on page 1 with a line of so many mm."""
    path, svg = folder / "sheet.pdf", folder / "page.svg"
    path.write_bytes(pdf)
    # Without -noshrink pdftocairo makes pages 0.12 % smaller, to a printer's margins.
    command = ["pdftocairo", "-svg", "-noshrink", "-f", "1", "-l", "1", path, svg]
    subprocess.run(command, check=True, capture_output=True)
    found = []
    for element in ET.parse(svg).iter("{http://www.w3.org/2000/svg}path"):
        style = element.get("style", "")
        matrix = re.findall(r"-?[\d.]+", element.get("transform", ""))
        if "stroke:none" in style or len(matrix) != 6:
            continue
        a, b, c, d, e, f = map(float, matrix)
        width = re.search(r"stroke-width:([\d.]+)", style)
        if width is None or abs(float(width[1]) * a / MM - line) > 0.004:
            continue
        numbers = [float(n) for n in re.findall(r"-?[\d.]+", element.get("d", ""))]
        points = list(zip(numbers[::2], numbers[1::2], strict=True))
        xs = [(a * x + c * y + e) / MM for x, y in points]
        ys = [(b * x + d * y + f) / MM for x, y in points]
        found.append((min(xs), min(ys), max(xs) - min(xs), max(ys) - min(ys)))
    return found


@needs_poppler
@pytest.mark.parametrize(
    ("harp", "paper", "strip"),
    [("C::half", "a4", 100.0), ("low D:richter-raised-3-blow:full", "letter", 47.0)],
)
def test_every_outline_in_the_pdf_has_the_size_of_its_valve(
    tmp_path: Path, harp: str, paper: str, strip: float
):
    plan = plan_valves(parse_harp(harp))
    found = boxes(cutting_sheet_pdf(plan, paper, strip), tmp_path, CUT_LINE)
    assert len(found) == len(plan.valves) >= 10
    # In order of tenths, so that equal lengths which differ by a hair do not change places.
    measured = sorted(
        ((height, width) for _, _, width, height in found),
        key=lambda size: (round(size[0], 1), round(size[1], 1)),
    )
    wanted = sorted((valve.length, valve.width) for valve in plan.valves)
    for (length, width), (own_length, own_width) in zip(measured, wanted, strict=True):
        assert length == pytest.approx(own_length, abs=TRUE)
        assert width == pytest.approx(own_width, abs=TRUE)


@needs_poppler
def test_outlines_on_paper_do_not_touch(tmp_path: Path, sheet: bytes):
    found = boxes(sheet, tmp_path, CUT_LINE)
    for k, (left, top, width, height) in enumerate(found):
        for other_left, other_top, other_width, other_height in found[:k]:
            beside = max(left - other_left - other_width, other_left - left - width)
            below = max(top - other_top - other_height, other_top - top - height)
            assert max(beside, below) >= GAP - TRUE


@needs_poppler
def test_the_check_bars_are_50_mm_and_2_inches_long(tmp_path: Path, sheet: bytes):
    lengths = sorted(width for _, _, width, _ in boxes(sheet, tmp_path, BAR_LINE))
    assert lengths == pytest.approx([50.0, 2 * 25.4], abs=TRUE)


@needs_poppler
def test_a_bar_has_its_length_in_pixels(tmp_path: Path, sheet: bytes):
    # Rendered at 600 dots an inch the longest dark run of the upper bar is 50 mm long.
    (tmp_path / "sheet.pdf").write_bytes(sheet)
    command = ["pdftoppm", "-r", "600", "-gray", "-f", "1", "-l", "1", "-y", "700", "-H", "340"]
    command += ["-x", "0", "-W", "2000", tmp_path / "sheet.pdf", tmp_path / "page"]
    subprocess.run(command, check=True, capture_output=True)
    (image,) = tmp_path.glob("page*.pgm")
    _, size, _, pixels = image.read_bytes().split(b"\n", 3)
    wide, high = map(int, size.split())
    rows = (pixels[y * wide : (y + 1) * wide] for y in range(high))
    dark = re.compile(rb"[\x00-\x7f]{900,}")
    runs = [len(run) for row in rows for run in dark.findall(row)]
    assert runs
    # Its line adds half its own width at either end.
    assert min(runs) / 600 * 25.4 == pytest.approx(50.0 + BAR_LINE / 2, abs=BAR_LINE / 2 + TRUE)


def test_the_drawing_alone_is_at_true_size_too(half: ValvePlan):
    root = ET.fromstring(cutting_sheet_svg(half))
    _, _, width, height = map(float, root.attrib["viewBox"].split())
    assert root.attrib["width"] == f"{width:g}mm" and root.attrib["height"] == f"{height:g}mm"
    outlines = [
        (float(rect.attrib["height"]), float(rect.attrib["width"]))
        for rect in root.iter("{http://www.w3.org/2000/svg}rect")
        if float(rect.attrib["stroke-width"]) == CUT_LINE
    ]
    assert sorted(outlines) == sorted((valve.length, valve.width) for valve in half.valves)


def test_pages_have_the_size_of_their_paper(half: ValvePlan, sheet: bytes):
    # ISO 216 for A4; ANSI/ASME Y14.1 for Letter, 8.5 by 11 inches.
    letter = cutting_sheet_pdf(half, "letter")
    for pdf, wide, high in ((sheet, 210.0, 297.0), (letter, 8.5 * 25.4, 11 * 25.4)):
        for page in pypdf.PdfReader(io.BytesIO(pdf)).pages:
            assert float(page.mediabox.width) / MM == pytest.approx(wide, abs=TRUE)
            assert float(page.mediabox.height) / MM == pytest.approx(high, abs=TRUE)


def test_the_sheet_is_tagged_and_every_drawing_has_words(sheet: bytes):
    reader = pypdf.PdfReader(io.BytesIO(sheet))
    root = reader.trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"]
    assert root["/Lang"].startswith("en")
    assert "Valves for the C harp" in reader.metadata.title
    alts = re.findall(rb"/Alt\s*\(", sheet) or [
        element for element in _elements(root["/StructTreeRoot"]) if "/Alt" in element
    ]
    assert len(alts) == 5  # the bars, two strips, two plates


def _elements(element):
    kids = element.get("/K", [])
    for kid in kids if isinstance(kids, list) else [kids]:
        kid = kid.get_object()
        if isinstance(kid, pypdf.generic.DictionaryObject):
            yield kid
            yield from _elements(kid)


def test_the_sheet_says_what_the_bench_needs(sheet: bytes, half: ValvePlan):
    pages = [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(sheet)).pages]
    assert len(pages) == 2
    text = " ".join(" ".join(pages).split())
    for words in (
        "Print at 100 %",
        "50 mm",
        "2 inches",
        "Slot sizes are from memory",
        "Measure before you cut",
        "mouthpiece",
        "A sharp knife slips",
        "Glue gives off fumes",
        "which can hold lead",
        "Lost: the overblow",
        "New on this harp: B3",
    ):
        assert words in text, words
    for valve in half.valves:
        assert f"{valve.length:.1f}" in text


def test_the_same_plan_makes_the_same_bytes(half: ValvePlan, sheet: bytes):
    assert cutting_sheet_pdf(half) == sheet


def test_material_wider_than_the_page_is_cut_to_it_and_this_is_told(half: ValvePlan):
    reader = pypdf.PdfReader(io.BytesIO(cutting_sheet_pdf(half, strip_width=300)))
    assert "yours, of 300 mm, would not fit the page" in reader.pages[0].extract_text()


def test_the_sheet_is_written_whole(tmp_path: Path, half: ValvePlan, sheet: bytes):
    write_cutting_sheet(half, tmp_path / "valves.pdf")
    assert (tmp_path / "valves.pdf").read_bytes() == sheet
    assert [path.name for path in tmp_path.iterdir()] == ["valves.pdf"]


def test_what_cannot_be_made_is_refused_before_a_file_is_there(tmp_path: Path, half: ValvePlan):
    target = tmp_path / "valves.pdf"
    bare = plan_valves(parse_harp("C"))
    tight = plan_valves(parse_harp("C::half"), SlotSizes(plates=PlateMeasures(hole_pitch=3.0)))
    for plan, error, says in ((bare, ValveError, "no reed"), (tight, ValveError, "no valve fits")):
        with pytest.raises(error, match=says):
            write_cutting_sheet(plan, target)
    with pytest.raises(ValveError, match="too narrow"):
        write_cutting_sheet(half, target, strip_width=4.0)
    with pytest.raises(ReedwrightError, match="Paper"):
        write_cutting_sheet(half, target, "napkin")
    assert not target.exists()
