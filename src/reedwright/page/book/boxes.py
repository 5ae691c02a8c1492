"""Where printed sheets are bled, told to printers beside crop marks.

Typst 0.15 writes a page's TrimBox, and its MediaBox with all that stands around it. Without marks
that is just what is bled, and a BleedBox that is not written is as large (ISO 32000-1, 14.11.2).
Where marks stand around, it has to be written.

Public: `with_bleed_boxes`.
"""

from __future__ import annotations

import re
from bisect import bisect_right

from reedwright.errors import ReedwrightError

POINT = 25.4 / 72  # mm
_TRIM = re.compile(rb"/TrimBox\[([\d.]+) ([\d.]+) ([\d.]+) ([\d.]+)\]")
_ENTRY = re.compile(rb"(\d{10}) (\d{5}) n")
_START = re.compile(rb"startxref\s+(\d+)\s+%%EOF\s*$")


def with_bleed_boxes(pdf: bytes, bleed: float) -> bytes:
    """The PDF with a BleedBox on every page that has a TrimBox, `bleed` mm around that.

    For files with one plain table of references, as Typst writes them. Raises `ReedwrightError`
    where it is another.
    """
    start = _START.search(pdf)
    if not start or not pdf.startswith(b"xref", int(start[1])):
        raise ReedwrightError(
            "The PDF has no plain table of references, so no BleedBox could be written: make the "
            "book without crop marks."
        )
    table = int(start[1])
    around = bleed / POINT
    parts: list[bytes] = []
    places, sums = [0], [0]  # where bytes were put in, and how many up to there
    done = 0
    for found in _TRIM.finditer(pdf, 0, table):
        left, bottom, right, top = map(float, found.groups())
        box = (left - around, bottom - around, right + around, top + around)
        words = b"/BleedBox[%s]" % " ".join(f"{edge:.4f}" for edge in box).encode()
        parts += [pdf[done : found.end()], words]
        done = found.end()
        places.append(done)
        sums.append(sums[-1] + len(words))

    def moved(offset: int) -> int:
        return offset + sums[bisect_right(places, offset) - 1]

    parts.append(pdf[done:table])
    references = _ENTRY.sub(lambda e: b"%010d %s n" % (moved(int(e[1])), e[2]), pdf[table:])
    parts.append(_START.sub(b"startxref\n%d\n%%%%EOF" % moved(table), references))
    return b"".join(parts)
