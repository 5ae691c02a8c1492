"""Pages of a book as pictures, and which page has what; drawn from what the PDF is made of.

Public: `BookPictures`, `Place`, `book_pictures`, `PPI`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.page.book.model import BookContent, BookLook
from reedwright.page.book.printing import TEMPLATE, book_data
from reedwright.page.press import Press

LABEL = "tune-"  # of the template, before a tune's name
PPI = 100.0  # pixels to the inch: a page of A4 is 827 wide


class Place(NamedTuple):
    """A heading and its page, from 1. `name`: of the tune that it is the title of, else empty."""

    page: int
    title: str
    name: str = ""


class BookPictures(NamedTuple):
    """Every page as PNG, in order, and the places of headings in them."""

    pages: tuple[bytes, ...]
    places: tuple[Place, ...]


def book_pictures(content: BookContent, look: BookLook, ppi: float = PPI) -> BookPictures:
    """Raises as `book_pdf` does."""
    press = Press(look.template or TEMPLATE)
    data = book_data(content, look)
    press.typeset(data)
    headings = press.headings()
    # The title page stands before the imprint, and that before the contents (docs/book-pages.md).
    places = [Place(1, "Cover"), *(Place(each[0] - 2, "Title page") for each in headings[:1])]
    names = {entry.name for entry in content.tunes}
    titles = {entry.name: entry.title for entry in content.tunes}
    for page, title, label in headings:
        name = label.removeprefix(LABEL)
        is_tune = label.startswith(LABEL) and name in names
        places.append(Place(page, titles[name] if is_tune else title, name if is_tune else ""))
    return BookPictures(tuple(press.pictures(data, ppi)), tuple(places))
