"""Pages as pictures, to be looked at while settings are changed; drawn from what the PDF is.

Public: `LessonPictures`, `lesson_pictures`, `png_size`, `PPI`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.page.lesson import laid_out
from reedwright.page.settings import PageSettings
from reedwright.tab.arrangement import Arrangement

PPI = 132.0  # pixels to the inch: a page of A4 is 1091 wide, more than a screen shows of it
PNG_SIZE = slice(16, 24)  # of a PNG: width and height, 4 bytes each (ISO/IEC 15948, 11.2.2)


class LessonPictures(NamedTuple):
    """Every page as PNG, and what the lesson is in words."""

    pages: tuple[bytes, ...]
    description: str

    def words(self, page: int) -> str:
        """For those who do not see a page, which counts from 1."""
        where = f"Page {page} of {len(self.pages)} as it will be printed."
        return f"{where} {self.description}" if page == 1 else where


def lesson_pictures(
    arrangement: Arrangement, settings: PageSettings | None = None, ppi: float = PPI
) -> LessonPictures:
    """The pages of the lesson's PDF. Raises as `lesson_pdf` does."""
    found = laid_out(arrangement, settings)
    pages = found.press.pictures(found.data, ppi)
    return LessonPictures(tuple(pages), str(found.data["description"]))


def png_size(png: bytes) -> tuple[int, int]:
    """Width and height in pixels."""
    both = png[PNG_SIZE]
    return int.from_bytes(both[:4], "big"), int.from_bytes(both[4:], "big")
