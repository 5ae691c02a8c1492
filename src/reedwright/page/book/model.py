"""What a book of tunes holds and how it is to look.

Public: `TuneEntry`, `Chapter`, `BookContent`, `BookLook`, `BOOK_PAPERS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from reedwright.errors import ReedwrightError

# Typst's names, width and height in mm (ISO 216; ANSI/ASME Y14.1).
BOOK_PAPERS = {
    "a4": ("a4", 210.0, 297.0),
    "letter": ("us-letter", 215.9, 279.4),
    "a5": ("a5", 148.0, 210.0),
}
LARGEST_BLEED = 10.0  # mm; printers ask for 3 or 5 (common practice, no source)


@dataclass(frozen=True, slots=True)
class TuneEntry:
    """A tune as it stands in a book: engraved, and all that lists and indexes say of it.

    It depends on the tune's arrangement, its words and the look alone, not on its place in the
    book, so it can be kept and used again. Every value can be written as JSON.

    `name`: short and unlike any other in the book, in letters, digits and hyphens: for links.
    `type` is empty where the tune says none; `harp` is the harp's name. `begins`: how the melody
    begins, for the index of first notes. `address`: where its sound is on the web, empty for none.
    `rights` is empty where none are stated. `page`: what the template is given for its page (music,
    chart, words); `height`: mm that it takes.
    """

    name: str
    title: str
    also: tuple[str, ...]
    type: str
    key: str
    composer: str
    harp: str
    position: int
    grade: float
    begins: str
    rights: str
    address: str
    page: Mapping[str, object]
    height: float


@dataclass(frozen=True, slots=True)
class Chapter:
    """A chapter: its title (empty in a book without), the words before its tunes, its tunes."""

    title: str
    tunes: tuple[TuneEntry, ...]
    words: str = ""


@dataclass(frozen=True, slots=True)
class BookContent:
    """All that a book says.

    `maker`: who made the book. `preface`: paragraphs. `imprint`: lines for the page behind the
    title (publisher, place, year, edition). `rights`: what holds for the book as a whole; each
    tune has its own. `credits`: lines for the last page. `cautions`: sentences for it.
    """

    title: str
    chapters: tuple[Chapter, ...]
    subtitle: str = ""
    maker: str = ""
    preface: tuple[str, ...] = ()
    imprint: tuple[str, ...] = ()
    rights: str = ""
    credits: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def tunes(self) -> tuple[TuneEntry, ...]:
        return tuple(tune for chapter in self.chapters for tune in chapter.tunes)


@dataclass(frozen=True, slots=True)
class BookLook:
    """How it is to look.

    `tab_style`: arrows, signs or rows. `colour`: one accent colour; grey without. `bleed`: mm that
    colour goes beyond the edge, with crop marks where `crop_marks`. `two_sided`: margins and
    running heads mirrored, chapters on right-hand pages. `two_to_a_page`: short tunes that fit
    share a page. `links`: qr, text or none. `full_notes`: the notes on playing and the harp chart
    under each tune, as on a lesson page; without, only music, tab and the tune's own words.
    `template`: a Typst file of the user's own.
    """

    paper: str = "a4"
    tab_style: str = "arrows"
    colour: bool = False
    bleed: float = 0.0
    crop_marks: bool = False
    two_sided: bool = True
    two_to_a_page: bool = True
    links: str = "qr"
    full_notes: bool = True
    template: Path | None = None

    def __post_init__(self) -> None:
        if self.paper not in BOOK_PAPERS:
            raise ReedwrightError(f"Paper {self.paper!r}: choose one of {', '.join(BOOK_PAPERS)}.")
        if not 0 <= self.bleed <= LARGEST_BLEED:
            raise ReedwrightError(
                f"Bleed {self.bleed:g} mm: give 0 to {LARGEST_BLEED:g}; printers ask for 3 or 5."
            )

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the finished page, mm."""
        return BOOK_PAPERS[self.paper][1:]
