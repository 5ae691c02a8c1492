"""How large things are on the pages of a book: margins, type, music, by its paper.

All sizes are our own judgement (common practice of printed tune books, no source) but where a
source is named. Lengths are mm, type is in points.

Public: `Format`, `format_of`, `look_data`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.page.book.model import BOOK_PAPERS, BookLook
from reedwright.page.fitting import SMALL_STAVES, STAVES


class Format(NamedTuple):
    """`inside`, `outside`, `top`, `bottom`: margins. `words`: type of notes on playing.
    `title`: of a tune's title. `chart`: whether the harp chart has room under a tune.
    `staves`: heights of the staff for a tune that has its page for itself; `shared`: for one that
    shares it; `small`: where nothing else fits. `columns`: of notes, contents and indexes."""

    paper: str
    width: float
    height: float
    inside: float
    outside: float
    top: float
    bottom: float
    words: float
    title: float
    chart: bool
    staves: tuple[float, ...]
    shared: tuple[float, ...]
    small: tuple[float, ...]
    columns: int

    @property
    def text_width(self) -> float:
        return self.width - self.inside - self.outside

    @property
    def text_height(self) -> float:
        return self.height - self.top - self.bottom


def _staves(largest: float, smallest: float) -> tuple[float, ...]:
    return tuple(staff for staff in STAVES if smallest <= staff <= largest)


# More margin inside, where the binding takes a part of it.
_SMALL = ("a5",)
_LARGE_PAGE = {"inside": 20.0, "outside": 15.0, "top": 19.0, "bottom": 17.0}
_SMALL_PAGE = {"inside": 15.5, "outside": 11.5, "top": 14.0, "bottom": 12.5}


def format_of(look: BookLook) -> Format:
    name, width, height = BOOK_PAPERS[look.paper]
    if look.paper in _SMALL:
        return Format(
            name, width, height, **_SMALL_PAGE, words=8.8, title=17.0, chart=False,
            staves=_staves(6.4, 5.4), shared=_staves(6.0, 5.4), small=SMALL_STAVES, columns=1,
        )  # fmt: skip
    return Format(
        name, width, height, **_LARGE_PAGE, words=9.6, title=23.0, chart=True,
        staves=_staves(7.6, 5.8), shared=_staves(6.6, 5.6), small=_staves(5.6, 5.4) + SMALL_STAVES,
        columns=2,
    )  # fmt: skip


def look_data(form: Format, look: BookLook) -> dict[str, object]:
    """What templates are told of the look."""
    return {
        "width": form.width,
        "height": form.height,
        "inside": form.inside,
        "outside": form.outside,
        "top": form.top,
        "bottom": form.bottom,
        "text_width": form.text_width,
        "words": form.words,
        "title": form.title,
        "columns": form.columns,
        "colour": look.colour,
        "bleed": look.bleed,
        "crop_marks": look.crop_marks,
        "two_sided": look.two_sided,
        "tab_style": look.tab_style,
    }
