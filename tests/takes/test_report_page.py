"""The page of a report: what stands on it, and that its signs are told by shape."""

import io
import re

import pytest
from played_badly import perform
from pypdf import PdfReader
from report_takes import bends, demo, taken

from reedwright.takes.report.curves import pitch_drawing, tempo_drawing
from reedwright.takes.report.judging import judge
from reedwright.takes.report.page import report_pdf, write_report_page
from reedwright.takes.report.strips import strips

WIDTH = 178.0  # mm


@pytest.fixture(scope="module")
def faulty():
    arrangement = demo()
    performance = perform(
        arrangement,
        wrong=[40],
        wrong_by=2,
        missed=[20, 130],
        flat=bends(arrangement, perform(arrangement))[:2],
        dragged_bars=[12],
    )
    return judge(taken(arrangement, performance))


def words_of(pdf):
    text = " ".join(page.extract_text() for page in PdfReader(io.BytesIO(pdf)).pages)
    return " ".join(text.split())


def test_page_says_the_three_things_and_is_tagged(faulty, tmp_path):
    write_report_page(faulty, tmp_path / "take.pdf")
    pdf = (tmp_path / "take.pdf").read_bytes()
    text = words_of(pdf)
    for advice in faulty.most_useful:
        assert " ".join(advice.what.split()) in text
    root = PdfReader(io.BytesIO(pdf)).trailer["/Root"]
    assert root["/MarkInfo"]["/Marked"] and "/StructTreeRoot" in root
    assert b"pdfuaid:part" in pdf
    assert pdf == report_pdf(faulty)


@pytest.mark.parametrize(("paper", "points"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_paper_is_as_asked(faulty, tmp_path, paper, points):
    write_report_page(faulty, tmp_path / "take.pdf", paper)
    box = PdfReader(tmp_path / "take.pdf").pages[0].mediabox
    assert (round(box.width), round(box.height)) == points


def test_strips_hold_every_bar_once_and_each_part_begins_one(faulty):
    found = strips(faulty, WIDTH)
    titles = [re.search(r"<title>(.*?)</title>", strip.svg)[1] for strip in found]
    assert titles == [
        "Part A: bars 1 to 8",
        "Part A, second time: bars 1 to 9",
        "Part B: bars 10 to 17",
        "Part B, second time: bars 10 to 18",
    ]
    assert all(strip.width == WIDTH and strip.height < 60 for strip in found)


def test_faults_have_shapes_of_their_own_and_stand_in_words(faulty):
    svg = "".join(strip.svg for strip in strips(faulty, WIDTH))
    dashed = svg.count('stroke-dasharray="2 1.6"')
    assert dashed == 3  # two missed, one wrong
    assert svg.count("l 6.4 6.4") == 2  # a saltire in each that was missed
    points = [path.count(" L ") for path in re.findall(r'd="(M [^"]*Z)"', svg)]
    assert sorted(points) == [2, 2, 3]  # a wedge at each bend, a diamond for the wrong note
    assert "drags 4" in svg
    words = " ".join(strip.words for strip in strips(faulty, WIDTH))
    assert "1 missed" in words and "1 wrong" in words and "dragged" in words
    colours = set(re.findall(r"#[0-9a-f]{6}", svg))
    assert all(c[1:3] == c[3:5] == c[5:7] for c in colours)  # greys only


def test_drawings_tell_bars_and_bends_in_words(faulty):
    assert "dragged: bar 4." in tempo_drawing(faulty, WIDTH).words
    assert "hole 3 draw bent a whole tone" in pitch_drawing(faulty, WIDTH).words


def test_take_that_does_not_fit_has_a_page_that_says_so(tmp_path):
    from dataclasses import replace

    following = replace(taken(demo(), perform(demo())), sureness=0.0)
    text = words_of(report_pdf(judge(following)))
    assert "harp" not in text.split("does not fit")[0]  # nothing is claimed of it
    assert "does not fit" in text and "Note by note" not in text
