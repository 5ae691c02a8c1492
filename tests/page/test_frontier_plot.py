"""The plot of a tuning search: what stands where, and that it can be read in black and white."""

import io
import re
import xml.etree.ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from reedwright.harp.model import Breath, Reed
from reedwright.harp.tunings import find_tuning
from reedwright.page.frontierplot import PIXELS_PER_MM, frontier_alt, frontier_svg
from reedwright.page.raster import svg_to_png
from reedwright.workshop.search.model import (
    Change,
    Found,
    Score,
    SearchResult,
    SearchWishes,
)

SVG = "{http://www.w3.org/2000/svg}"


def change(hole: int, breath: str, by: int) -> Change:
    return Change(Reed(hole, Breath(breath)), by)


def told(plain: int, effort: float, relearned: float, *changes: Change) -> Found:
    return Found(changes, Score(plain, 20, effort, relearned), tuple(range(plain)), (19,))


AS_IT_IS = Found((), Score(8, 18, 2.0, 0.0), (), ())
ONE = told(12, 1.5, 0.10, change(3, "blow", 2))
OTHER = told(13, 1.8, 0.02, change(2, "draw", 2))
TWO = told(14, 1.25, 0.20, change(3, "blow", 2), change(7, "draw", -1))


def result(**other) -> SearchResult:
    values = {
        "wishes": SearchWishes(find_tuning("richter"), reeds=2),
        "titles": tuple(f"Tune <{number}>" for number in range(20)),
        "base": AS_IT_IS.score,
        "best": ((ONE, OTHER), (TWO,)),
        "plainest": ((OTHER, ONE), (TWO,)),
        "frontier": (AS_IT_IS, ONE, OTHER, TWO),
        "exact": 2,
    }
    return SearchResult(**{**values, **other})


def texts(svg: str) -> list[str]:
    return [element.text or "" for element in ET.fromstring(svg).iter(f"{SVG}text")]


def diamonds(svg: str) -> list[tuple[float, float]]:
    """Their middles, from left to right: as it is, one reed, two reeds."""
    found = []
    for path in ET.fromstring(svg).iter(f"{SVG}path"):
        if path.get("class") == "easiest" and not path.get("transform"):
            x, y = re.match(r"M ([\d.]+) ([\d.-]+)", path.get("d", "")).groups()
            found.append((float(x), float(y)))
    return sorted(found[:-1])  # the last one explains the sign


def test_height_is_effort_saved_on_one_scale_for_all_columns() -> None:
    svg = frontier_svg(result())
    (_, nothing), (_, one), (_, two) = diamonds(svg)
    # Saved: 0, 0.5 and 0.75 effort a note.
    assert (nothing - two) / (nothing - one) == pytest.approx(1.5, abs=0.001)
    circles = [c for c in ET.fromstring(svg).iter(f"{SVG}circle") if c.get("class") == "other"]
    other = float(circles[0].get("cy"))
    assert (nothing - other) / (nothing - one) == pytest.approx(0.4, abs=0.001)


def test_every_number_of_reeds_has_its_column_and_its_letters() -> None:
    svg = frontier_svg(result(), "Twenty tunes")
    words = texts(svg)
    for said in ("Twenty tunes", "as it is", "one reed", "two reeds"):
        assert said in words
    letters = [e.text for e in ET.fromstring(svg).iter(f"{SVG}text") if e.get("class") == "letter"]
    assert sorted(letters) == ["A", "B", "C"]
    listed = [text for text in words if "effort" in text and "a note," in text]
    assert listed[0] == (
        "3 blow up 2: effort 1.50 a note, 12 tunes with no bends (12 won and 1 lost), "
        "10.0 % to relearn"
    )
    assert len(listed) == 3


def test_a_long_list_of_changes_takes_two_lines() -> None:
    many = told(12, 1.1, 0.3, *(change(hole, "draw", -2) for hole in range(1, 8)))
    each = (*[()] * 6, (many,))
    words = texts(frontier_svg(result(frontier=(AS_IT_IS, many), best=each, plainest=each)))
    at = words.index(", ".join(f"{hole} draw down 2" for hole in range(1, 8)) + ":")
    assert words[at + 1].startswith("effort 1.10 a note, 12 tunes with no bends")


def test_tunes_with_no_bends_stand_below_as_numbers() -> None:
    words = texts(frontier_svg(result()))
    for number in ("8", "12", "13", "14"):
        assert number in words


def test_two_signs_that_lie_close_share_one_letter() -> None:
    near = told(12, 1.501, 0.099, change(4, "blow", 2))
    svg = frontier_svg(result(frontier=(AS_IT_IS, ONE, near, TWO)))
    assert "4 blow up 2" not in " ".join(texts(svg))


def test_where_a_reed_more_gains_nothing_the_column_is_empty() -> None:
    svg = frontier_svg(result(best=((ONE,), ()), plainest=((ONE,), ()), frontier=(AS_IT_IS, ONE)))
    assert len(diamonds(svg)) == 2
    assert "two reeds" in texts(svg)
    nothing = result(best=((),), plainest=((),), frontier=(AS_IT_IS,))
    assert ET.fromstring(frontier_svg(nothing)).tag == f"{SVG}svg"


@pytest.mark.parametrize("reeds", [1, 2, 5, 8])
def test_nothing_leaves_the_drawing_and_no_column_is_too_narrow(reeds: int) -> None:
    rows = tuple(
        (told(12, 2.0 - 0.1 * n, 0.05 * n, *(change(k + 1, "blow", 1) for k in range(n))),)
        for n in range(1, reeds + 1)
    )
    frontier = (AS_IT_IS, *(row for (row,) in rows))
    svg = frontier_svg(result(best=rows, plainest=rows, frontier=frontier), width_mm=174)
    root = ET.fromstring(svg)
    width, height = float(root.get("width")), float(root.get("height"))
    assert width == pytest.approx(174 * PIXELS_PER_MM, abs=0.01)
    for each in root:  # signs that are explained stand in groups of their own
        for name, most in (("x", width), ("cx", width), ("y", height), ("cy", height)):
            if each.get(name) is not None:
                assert 0 <= float(each.get(name)) <= most
    frames = [r for r in root.iter(f"{SVG}rect") if r.get("fill") == "none"]
    assert len(frames) == reeds + 1
    # The widest name of a column is set in half an em a letter, about 58 pixels.
    assert min(float(frame.get("width")) for frame in frames) > 44


def test_it_is_grey_and_black_only_and_tells_signs_apart_by_shape() -> None:
    svg = frontier_svg(result())
    for colour in re.findall(r"#[0-9a-f]{6}", svg):
        assert colour[1:3] == colour[3:5] == colour[5:7]
    pixels = np.asarray(Image.open(io.BytesIO(svg_to_png(svg, 96))).convert("RGB")).astype(int)
    assert np.abs(pixels - pixels[..., :1]).max() < 12
    assert 'class="easiest"' in svg and 'class="other"' in svg


def test_the_words_for_those_who_hear_the_page() -> None:
    said = frontier_alt(result())
    assert "Of 20 tunes 8 need no bends" in said
    assert "With one reed changed the easiest is 3 blow up 2: it saves 0.50 a note" in said
    assert "With two reeds changed" in said
    assert "<desc>Of 20 tunes" in frontier_svg(result())
