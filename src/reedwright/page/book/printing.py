"""The book as one PDF: cover, front matter, tunes, indexes, last page.

Public: `book_pdf`, `book_data`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from reedwright.errors import ReedwrightError
from reedwright.page.book.boxes import with_bleed_boxes
from reedwright.page.book.format import format_of, look_data
from reedwright.page.book.guide import harps_needed, ornament, tab_guide
from reedwright.page.book.indexes import Index, indexes
from reedwright.page.book.model import BookContent, BookLook, TuneEntry
from reedwright.page.book.paging import Page, body_pages
from reedwright.page.press import HERE, Press

TEMPLATE = HERE / "templates" / "book.typ"

Progress = Callable[[float, str], None]


def book_pdf(content: BookContent, look: BookLook, progress: Progress | None = None) -> bytes:
    """The book as tagged PDF (PDF/UA-1), the same bytes for the same content and look.

    `progress` is told the share done and what is being done.

    Raises
    ------
    ReedwrightError: no tunes, or two of the same name
    NotTypeset
    """
    tell = progress or (lambda share, doing: None)
    tell(0.0, "laying out the pages")
    data = book_data(content, look)
    tell(0.1, "typesetting the book")
    pdf = Press(look.template or TEMPLATE).typeset(data)
    if look.crop_marks:
        pdf = with_bleed_boxes(pdf, look.bleed)
    tell(1.0, "typesetting the book")
    return pdf


def book_data(content: BookContent, look: BookLook) -> dict[str, object]:
    """What a template is given, JSON-ready; docs/book-pages.md describes it."""
    tunes = content.tunes
    if not tunes:
        raise ReedwrightError(f"{content.title}: a book needs at least one tune.")
    names = [tune.name for tune in tunes]
    double = sorted({name for name in names if names.count(name) > 1})
    if double:
        raise ReedwrightError(f"Two tunes of the book are named {double[0]}: rename one of them.")
    form = format_of(look)
    pages = body_pages(content.chapters, look)
    ways = {part.tune: part.way for page in pages for part in page.parts}
    return {
        "title": content.title,
        "subtitle": content.subtitle,
        "maker": content.maker,
        "preface": content.preface,
        "imprint": content.imprint,
        "rights": content.rights,
        "credits": content.credits,
        "cautions": content.cautions,
        "look": look_data(form, look),
        "ornament": ornament(),
        "guide": tab_guide(tunes, form, look),
        "harps": harps_needed(tunes),
        "chapters": [
            {"title": chapter.title, "words": chapter.words} for chapter in content.chapters
        ],
        "tunes": [_tune(tune, ways[place]) for place, tune in enumerate(tunes)],
        "pages": [_page(page) for page in pages],
        "indexes": [_index(index) for index in indexes(tunes)],
    }


LEFT_OUT = ("alone", "shared", "melody", "signs", "harp_chart")


def _tune(tune: TuneEntry, way: str) -> dict[str, object]:
    """What the template is given of a tune: how it is set for its place, and its words."""
    chosen: Any = tune.page[way]
    words = {name: value for name, value in tune.page.items() if name not in LEFT_OUT}
    if not chosen["below"]["chart"]:
        words["chart"] = None
    if not chosen["story_pages"] and chosen["below"]["story"] == "":
        words["story"] = []
    return {"name": tune.name, **words, **chosen}


def _page(page: Page) -> Mapping[str, object]:
    return {
        "chapter": page.chapter,
        "opener": page.opener,
        "parts": [part._asdict() for part in page.parts],
    }


def _index(index: Index) -> dict[str, object]:
    return {
        **index._asdict(),
        "groups": [
            {"label": group.label, "rows": [row._asdict() for row in group.rows]}
            for group in index.groups
        ],
    }
