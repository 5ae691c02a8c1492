"""What a finished PDF holds, as other programs find it: text, structure, and the ink itself."""

from __future__ import annotations

import io
import re
import subprocess

import numpy as np
import pypdf
from numpy.typing import NDArray

PIXELS = 10.0  # a millimetre, of pages that are measured
LIGHTEST = 200  # of the ink of lines, 0 black to 255 white
MARKUP = "#1 *Bird* _low_ <a@b.c> $x$ [y] `z` & ~"  # signs that mean something to Typst


def text_of(pdf: bytes, *how: str) -> str:
    """All text as poppler finds it, white space made single; `-layout` keeps to lines."""
    found = subprocess.run(
        ["pdftotext", *how, "-", "-"], input=pdf, capture_output=True, check=True
    )
    return " ".join(found.stdout.decode().split())


def read(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def pages_of(pdf: bytes) -> list[str]:
    """The text of each page in the file's own order."""
    return [" ".join(page.extract_text().split()) for page in read(pdf).pages]


def structure(pdf: bytes) -> list[pypdf.generic.DictionaryObject]:
    """Every element of the document's structure."""
    found, waiting = [], [read(pdf).trailer["/Root"]["/StructTreeRoot"]]
    while waiting:
        element = waiting.pop().get_object()
        if isinstance(element, pypdf.generic.ArrayObject):
            waiting += element
        elif isinstance(element, pypdf.generic.DictionaryObject):
            found.append(element)
            if "/K" in element:
                waiting.append(element["/K"])
    return found


def of_kind(pdf: bytes, kind: str) -> list[pypdf.generic.DictionaryObject]:
    return [element for element in structure(pdf) if element.get("/S") == kind]


def type_sizes(pdf: bytes) -> list[float]:
    """Sizes of all type, points on paper."""
    found: list[float] = []

    def visit(text, outer, matrix, font, size) -> None:
        if text.strip() and font:
            found.append(size * abs(matrix[3] * outer[3]))

    for page in read(pdf).pages:
        page.extract_text(visitor_text=visit)
    return found


def fonts_embedded(pdf: bytes) -> list[bool]:
    """Of every font whether it is in the file, by poppler's pdffonts."""
    found = subprocess.run(["pdffonts", "-"], input=pdf, capture_output=True, check=True)
    rows = found.stdout.decode().splitlines()[2:]
    # The last columns: embedded, subset, unicode, object number and generation.
    return [
        re.search(r"(yes|no)\s+(?:yes|no)\s+(?:yes|no)\s+\d+\s+\d+$", r)[1] == "yes" for r in rows
    ]


def word_places(pdf: bytes, word: str) -> list[tuple[float, float]]:
    """Left and top of a word wherever it stands, mm, by poppler."""
    found = subprocess.run(
        ["pdftotext", "-bbox", "-", "-"], input=pdf, capture_output=True, check=True
    ).stdout.decode()
    places = re.findall(rf'xMin="([\d.]+)" yMin="([\d.]+)" [^>]*>{re.escape(word)}<', found)
    return [(float(x) * 25.4 / 72, float(y) * 25.4 / 72) for x, y in places]


def raster(pdf: bytes, page: int = 1) -> NDArray[np.uint8]:
    """A page in grey, ten pixels a millimetre, by poppler."""
    found = subprocess.run(
        ["pdftoppm", "-gray", "-r", str(25.4 * PIXELS), "-f", str(page), "-l", str(page), "-"],
        input=pdf,
        capture_output=True,
        check=True,
    ).stdout
    head, size, _, rest = found.split(b"\n", 3)
    assert head == b"P5"
    width, height = map(int, size.split())
    return np.frombuffer(rest, np.uint8, width * height).reshape(height, width)


def runs_of_ink(row: NDArray[np.uint8]) -> list[tuple[float, float]]:
    """Where the ink of a row or column of pixels begins and ends, mm."""
    inked = np.flatnonzero(row < LIGHTEST)
    runs = np.split(inked, np.flatnonzero(np.diff(inked) > 1) + 1)
    return [(run[0] / PIXELS, (run[-1] + 1) / PIXELS) for run in runs if run.size]


def line_places(row: NDArray[np.uint8]) -> list[float]:
    """Where a row or column of pixels crosses lines, mm."""
    return [(start + end) / 2 for start, end in runs_of_ink(row)]
