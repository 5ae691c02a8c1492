"""Pages as pictures, to be looked at while settings are changed; drawn from what the PDF is.

Public: `PagePicture`, `lesson_picture`, `png_size`, `PPI`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.page.lesson import laid_out
from reedwright.page.settings import PageSettings
from reedwright.tab.arrangement import Arrangement

PPI = 132.0  # pixels to the inch: a page of A4 is 1091 wide, more than a screen shows of it
PNG_SIZE = slice(16, 24)  # of a PNG: width and height, 4 bytes each (ISO/IEC 15948, 11.2.2)


class PagePicture(NamedTuple):
    """A page as PNG. `page` counts from 1, `pages` is how many there are; `words`: the same for
    those who do not see it. `width`, `height` in pixels."""

    png: bytes
    page: int
    pages: int
    words: str

    @property
    def size(self) -> tuple[int, int]:
        return png_size(self.png)


def png_size(png: bytes) -> tuple[int, int]:
    """Width and height in pixels."""
    both = png[PNG_SIZE]
    return int.from_bytes(both[:4], "big"), int.from_bytes(both[4:], "big")


def lesson_picture(
    arrangement: Arrangement, settings: PageSettings | None = None, page: int = 1, ppi: float = PPI
) -> PagePicture:
    """One page of the lesson, the last where there are fewer. Raises as `lesson_pdf` does."""
    found = laid_out(arrangement, settings)
    pictures = found.press.pictures(found.data, ppi)
    page = max(1, min(page, len(pictures)))
    where = f"Page {page} of {len(pictures)} as it will be printed."
    words = f"{where} {found.data['description']}" if page == 1 else where
    return PagePicture(pictures[page - 1], page, len(pictures), words)
