"""The bench sheet as it is printed: read back from the finished PDF by pypdf and poppler."""

from __future__ import annotations

import io
import subprocess

import pypdf
import pytest

from reedwright.harp.making import make_harp
from reedwright.page.bench.sheet import bench_sheet, bench_sheet_pdf
from reedwright.workshop.cautions import CAUTIONS, SHORT_CAUTION
from reedwright.workshop.conversion.model import Conversion
from reedwright.workshop.conversion.planning import plan_conversion
from reedwright.workshop.targets.model import TargetWishes


def text_of(pdf: bytes) -> str:
    """All text in reading order as poppler finds it, white space made single."""
    found = subprocess.run(
        ["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True
    ).stdout.decode()
    return " ".join(found.split())


def read(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


@pytest.fixture(scope="module")
def minor() -> Conversion:
    """Twenty works: five reeds change, the others are touched up."""
    wishes = TargetWishes("just", a4=442.0, pressure=3.0, stretch=1.0)
    return plan_conversion(make_harp("A", "natural-minor"), wishes)


@pytest.fixture(scope="module")
def minor_pdf(minor: Conversion) -> bytes:
    return bench_sheet_pdf(minor)


def test_every_reed_has_its_target_and_cents_in_the_order_of_the_work(
    minor: Conversion, minor_pdf: bytes
) -> None:
    text = text_of(minor_pdf)
    place = text.index("The work, in order")
    assert len(minor.works) == 20
    for work in minor.works:
        for part in (f"{abs(work.cents):.1f}", f"{work.to_hz:.2f}"):
            place = text.index(part, place)


def test_the_short_caution_is_on_the_first_page_and_all_are_at_the_end(minor_pdf: bytes) -> None:
    pages = [" ".join(page.extract_text().split()) for page in read(minor_pdf).pages]
    assert SHORT_CAUTION in pages[0]
    for caution in CAUTIONS:
        assert caution in pages[-1]


def test_twenty_works_fit_two_sheets_of_a4(minor_pdf: bytes) -> None:
    assert len(read(minor_pdf).pages) == 2


def test_a_file_is_written_with_the_same_bytes_each_time(tmp_path) -> None:
    plan = plan_conversion(make_harp("C", "richter-raised-3-blow"), stock=make_harp("C"))
    for name in ("one.pdf", "two.pdf"):
        bench_sheet(plan, tmp_path / name, date="1 May 2026")
    one, two = ((tmp_path / name).read_bytes() for name in ("one.pdf", "two.pdf"))
    assert one == two
    assert b"pdfuaid:part" in one
