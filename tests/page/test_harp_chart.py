"""The drawn harp chart: what it holds, and that its letters reach the pixels."""

import io
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from reedwright.harp.layout import chart_rows, harp_report, layout_text
from reedwright.harp.making import make_harp
from reedwright.harp.model import Breath, Harp, Sounding, Technique
from reedwright.harp.tunings import all_tunings
from reedwright.page.harpchart import chart_svg
from reedwright.page.raster import svg_to_png

SVG = "{http://www.w3.org/2000/svg}"
HARPS = [
    make_harp("C"),
    make_harp("Bb", valves="half"),
    make_harp("F#", "richter-raised-3-blow", "low"),
    make_harp("A", "natural-minor"),
    make_harp("C", "slide-solo-12"),
]


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(f"{SVG}text")]


def natural(harp: Harp, hole: int, breath: Breath) -> Sounding:
    return next(
        s
        for s in harp.soundings
        if (s.hole, s.breath, s.technique, s.slide) == (hole, breath, Technique.NATURAL, False)
    )


@pytest.mark.parametrize("harp", HARPS, ids=lambda harp: harp.name)
def test_every_sounding_has_one_cell(harp: Harp) -> None:
    root = ET.fromstring(chart_svg(harp))
    frames = [r for r in root.iter(f"{SVG}rect") if r.get("fill") == "none"]
    assert len(frames) == len(harp.soundings)


@pytest.mark.parametrize("harp", HARPS, ids=lambda harp: harp.name)
def test_nothing_overlaps_and_all_lies_on_the_sheet(harp: Harp) -> None:
    root = ET.fromstring(chart_svg(harp, dict.fromkeys(harp.soundings, 12)))
    width, height = float(root.get("width", 0)), float(root.get("height", 0))
    boxes = []
    for frame in root.iter(f"{SVG}rect"):
        if frame.get("fill") == "none":
            x, y, w, h = (float(frame.get(k, "nan")) for k in ("x", "y", "width", "height"))
            boxes.append((x, y, x + w, y + h))
    for index, (left, top, right, bottom) in enumerate(boxes):
        assert 0 <= left < right <= width and 0 <= top < bottom <= height
        for other in boxes[:index]:
            apart = right < other[0] or other[2] < left or bottom < other[1] or other[3] < top
            assert apart


def test_marks_of_bends_and_overblows_are_in_the_chart() -> None:
    found = texts(chart_svg(make_harp("C")))
    # 3 draw bent three semitones is A flat, 6 overblow B flat, 7 overdraw D flat.
    assert {"A♭′′′", "B♭°", "D♭°"} <= set(found)
    assert "′ bent, a semitone for each mark    ° overblow or overdraw" in found


def test_legend_names_only_what_occurs() -> None:
    legend = " ".join(texts(chart_svg(make_harp("C", "slide-solo-12"))))
    assert "slide in" in legend and "every reed valved" in legend and "overblow" not in legend
    assert texts(chart_svg(make_harp("C", valves="half"))).count("v") == 10
    assert not any("mark" in line for line in texts(chart_svg(make_harp("C"), legend=False)))


def test_counts_are_shown_by_weight_and_number_not_by_colour() -> None:
    harp = make_harp("C")
    six = natural(harp, 6, Breath.BLOW)
    svg = chart_svg(harp, {six: 12})
    assert "12" in texts(svg)
    assert "how many times it is played" in " ".join(texts(svg))
    root = ET.fromstring(svg)
    widths = [
        float(r.get("stroke-width", 0)) for r in root.iter(f"{SVG}rect") if r.get("fill") == "none"
    ]
    heavy = max(widths)
    assert widths.count(heavy) == 1 and heavy >= 2 * sorted(widths)[-2]
    # Black and white safe: every colour is a grey.
    for colour in re.findall(r"#[0-9a-f]{6}", svg):
        assert colour[1:3] == colour[3:5] == colour[5:7]


@pytest.mark.parametrize("harp", HARPS, ids=lambda harp: harp.name)
def test_names_and_counts_stand_inside_their_frames(harp: Harp) -> None:
    """By generous widths: half an em a letter, a quarter a prime, capitals three quarters."""
    svg = chart_svg(harp, dict.fromkeys(harp.soundings, 128), legend=False, title="")
    root = ET.fromstring(svg)
    frames = [
        tuple(float(r.get(k, "nan")) for k in ("x", "y", "width", "height"))
        for r in root.iter(f"{SVG}rect")
        if r.get("fill") == "none"
    ]
    inside = 0
    for text in root.iter(f"{SVG}text"):
        words = text.text or ""
        if words in ("Blow", "Draw", "Hole", "slide in"):
            continue
        size, x, y = (float(text.get(k, "nan")) for k in ("font-size", "x", "y"))
        width = size * sum(
            {"′": 0.25, "v": 0.5}.get(c, 0.72 if c.isalpha() else 0.5) for c in words
        )
        left = x - {"start": 0, "middle": width / 2, "end": width}[text.get("text-anchor", "")]
        for fx, fy, fw, fh in frames:
            if fx <= x <= fx + fw and fy <= y <= fy + fh:
                assert fx <= left and left + width <= fx + fw, words
                assert fy <= y - 0.66 * size and y <= fy + fh - 3, words
                inside += 1
    assert inside >= 2 * len(harp.soundings)  # a name and a count in each


def test_rows_without_notes_of_the_tune_are_low_and_quiet() -> None:
    harp = make_harp("C")
    six = natural(harp, 6, Breath.BLOW)
    root = ET.fromstring(chart_svg(harp, {six: 12}))
    frames = [r for r in root.iter(f"{SVG}rect") if r.get("fill") == "none"]
    heights = [float(f.get("height", 0)) + float(f.get("stroke-width", 0)) for f in frames]
    low, plain, tall = sorted({round(height) for height in heights})
    assert (low, plain, tall) == (21, 33, 40)  # bends and overblows; draw notes; blow notes
    quiet = [t for t in root.iter(f"{SVG}text") if t.get("fill") != "#000000"]
    assert len(quiet) >= len(harp.soundings) - 1
    assert all(t.get("font-weight") == "normal" for t in quiet)


def test_the_description_says_the_chart_in_words() -> None:
    harp = make_harp("C")
    root = ET.fromstring(chart_svg(harp, {natural(harp, 6, Breath.BLOW): 12}))
    described = root.findtext(f"{SVG}desc") or ""
    assert described.startswith("Blow: 1 C4, 2 E4, 3 G4, 4 C5,")
    assert "6 blow natural 12 times" in described
    assert root.findtext(f"{SVG}title") == "Chart of the C harp"


def test_title_and_font_are_the_callers() -> None:
    svg = chart_svg(make_harp("Bb"), font='A "quoted" & odd font', title="Mine & yours")
    assert ET.fromstring(svg).get("font-family") == 'A "quoted" & odd font'
    assert "Mine & yours" in texts(svg)
    assert "B flat harp" in texts(chart_svg(make_harp("Bb")))
    assert "C harp" not in texts(chart_svg(make_harp("C"), title=""))


def grey(svg: str, dpi: float = 96) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(svg_to_png(svg, dpi))).convert("L"))


def test_letters_and_signs_reach_the_pixels() -> None:
    svg = chart_svg(make_harp("Bb"), dict.fromkeys(make_harp("Bb").soundings, 3))
    full = grey(svg)
    root = ET.fromstring(svg)
    for element in root.iter(f"{SVG}text"):
        # One text alone on the sheet must leave ink: a font without its glyphs would not.
        if element.text in ("B", "♭", "♭′′", "3", "Blow", "10"):
            alone = (
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{root.get("width")}" '
                f'height="{root.get("height")}" font-family="{root.get("font-family")}">'
                f"{ET.tostring(element, encoding='unicode')}</svg>"
            )
            assert grey(alone).min() < 128, element.text
    assert full.shape == (
        pytest.approx(float(root.get("height", 0)), abs=1),
        pytest.approx(float(root.get("width", 0)), abs=1),
    )


def test_resolution_is_in_dots_per_inch() -> None:
    svg = chart_svg(make_harp("C"))
    assert grey(svg, 192).shape[1] == pytest.approx(2 * grey(svg, 96).shape[1], abs=2)


def test_same_chart_gives_the_same_bytes() -> None:
    svg = chart_svg(make_harp("C"))
    assert svg == chart_svg(make_harp("C"))
    assert svg_to_png(svg) == svg_to_png(svg)


def test_terminal_chart_of_ten_holes_fits_eighty_columns() -> None:
    for tuning in all_tunings().values():
        for key in ("C", "Bb", "F#"):
            for valves in ("none", "half", "full"):
                harp = make_harp(key, tuning, valves=valves)
                widest = max(len(line) for line in layout_text(harp).splitlines())
                assert widest <= (80 if tuning.holes <= 10 else 14 + 5 * tuning.holes)


def test_terminal_chart_stands_in_columns() -> None:
    lines = layout_text(make_harp("C")).splitlines()
    hole = next(line for line in lines if line.startswith("hole"))
    three = hole.index("[3]")
    assert [line[:14].strip() for line in lines[2:]] == [
        "overblow",
        "blow bend 2",
        "blow bend 1",
        "blow",
        "hole",
        "draw",
        "draw bend 1",
        "draw bend 2",
        "draw bend 3",
        "overdraw",
    ]
    column = {line[:14].strip(): line[three - 1 : three + 5].strip() for line in lines[2:]}
    assert column == {
        "overblow": "C5",
        "blow bend 2": "",
        "blow bend 1": "",
        "blow": "G4",
        "hole": "[3]",
        "draw": "B4",
        "draw bend 1": "Bb4",
        "draw bend 2": "A4",
        "draw bend 3": "Ab4",
        "overdraw": "",
    }


@pytest.mark.parametrize("harp", HARPS, ids=lambda harp: harp.name)
def test_chart_rows_and_report_hold_every_sounding_once(harp: Harp) -> None:
    cells = [cell for row in chart_rows(harp) for cell in row.cells if cell is not None]
    assert sorted(cells) == sorted(harp.soundings)
    reported = harp_report(harp)["soundings"]
    assert isinstance(reported, list)
    assert len(reported) == len(harp.soundings)
