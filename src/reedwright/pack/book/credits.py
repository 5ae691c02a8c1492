"""The last page of a book: cautions, rights in the tunes, and what it was made with.

Public: `book_cautions`, `book_credits`.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedwright.pack.cautions import CAUTIONS, rights_not_stated
from reedwright.page.book.model import TuneEntry

# What lawyers and collecting societies tell those who publish tunes (common practice, no source).
SELLING = (
    "A tune, its setting and its words may each have an owner, even where the tune is old. Before "
    "this book or a part of it is copied, sold or put on the web, see that you may, and get a "
    "lawyer's or a collecting society's word where you are not sure."
)


def book_cautions(tunes: Sequence[TuneEntry]) -> tuple[str, ...]:
    """The cautions of every lesson, then what is to be known of rights."""
    unstated = [tune.title for tune in tunes if not tune.rights]
    return (*CAUTIONS, SELLING, *([rights_not_stated(unstated)] if unstated else []))


def book_credits() -> tuple[str, ...]:
    """The programs and typefaces that it was made with, in the words of their licences."""
    return (
        "Tab and pages by Reedwright. Music engraved with Verovio, pages set with Typst.",
        "Music font Leland, text font Libertinus Serif, tab font Reedwright Tab, all under the SIL "
        "Open Font License 1.1.",
    )
