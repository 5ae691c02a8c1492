"""A book as its page asks for it: every setting checked, and nothing in it a path.

Public: `BookAsked`, `TunePart`, `ChapterPart`, `FewestAsked`, `LookAsked`, `SavedBook`, `From`,
`PreviewAsked`, `SiteAsked`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field, field_validator

from reedwright.pack.site.settings import SiteSettings
from reedwright.page.book.model import LARGEST_BLEED, BookLook
from reedwright.web.numbers import ItemNumber, StateNumber

MOST_PARTS = 3000  # tunes and chapters of one book
MOST_HARPS = 40
HARP = r"^[A-Za-z0-9#♯♭ ,:\-]*$"  # no sign that a path has; tunings go by name
NAME = r"^[A-Za-z0-9 _\-]*$"
WEB = r"^(https?://[^\s]+)?$"

Line = Annotated[str, Field(max_length=300)]
Words = Annotated[str, Field(max_length=20_000)]
Address = Annotated[str, Field(max_length=300, pattern=WEB)]
HarpText = Annotated[str, Field(max_length=80, pattern=HARP)]


class TunePart(BaseModel):
    """A tune by its number on the shelf. `words`: the book maker's own, under its title."""

    kind: Literal["tune"]
    tune: ItemNumber
    harp: HarpText = ""
    words: Annotated[str, Field(max_length=2000)] = ""
    sold: bool = False


class ChapterPart(BaseModel):
    """A chapter begins here."""

    kind: Literal["chapter"]
    title: Line = ""
    words: Annotated[str, Field(max_length=2000)] = ""


Part = Annotated[TunePart | ChapterPart, Field(discriminator="kind")]


class FewestAsked(BaseModel):
    """As few harps as can be; docs/book.md has the words."""

    above_best: Annotated[float, Field(ge=0, le=100)] = 0.5
    most: Annotated[int, Field(ge=1, le=99)] | None = None
    no_bends: bool = False
    owned_free: bool = False

    @field_validator("most", mode="before")
    @classmethod
    def _empty(cls, value: object) -> object:
        return None if value == "" else value


class LookAsked(BaseModel):
    """As `BookLook`; without a template of one's own, which could read files."""

    paper: Literal["a4", "letter", "a5"] = "a4"
    tab_style: Literal["arrows", "signs", "rows"] = "arrows"
    colour: bool = False
    bleed: Annotated[float, Field(ge=0, le=LARGEST_BLEED)] = 0.0
    crop_marks: bool = False
    two_sided: bool = True
    two_to_a_page: bool = True
    links: Literal["qr", "text", "none"] = "qr"
    full_notes: bool = True

    def look(self) -> BookLook:
        return BookLook(**self.model_dump())


class BookAsked(BaseModel):
    """The whole book. `harps`: "" for those of the profile, else all; `shelf`: those on the shelf;
    `named`: those of `named_harps`. `parts` in order."""

    title: Annotated[str, Field(min_length=1, max_length=300, pattern=r"\S")]
    subtitle: Line = ""
    maker: Line = ""
    preface: Words = ""
    imprint: Annotated[str, Field(max_length=2000)] = ""
    rights: Annotated[str, Field(max_length=2000)] = ""
    credits: Annotated[str, Field(max_length=2000)] = ""
    base_address: Address = ""
    player: Annotated[str, Field(max_length=80, pattern=NAME)] = ""
    harps: Literal["", "all", "shelf", "named", "fewest"] = ""
    named_harps: Annotated[list[HarpText], Field(max_length=MOST_HARPS)] = []
    fewest: FewestAsked = FewestAsked()
    amount: Literal["", "none", "written", "light", "medium", "full"] = ""
    second_time: bool = False
    chapters: Literal["own", "type", "grade", "key", "harp"] = "own"
    order: Literal["given", "title", "grade"] = "given"
    look: LookAsked = LookAsked()
    parts: Annotated[list[Part], Field(max_length=MOST_PARTS)] = []

    @property
    def tunes(self) -> tuple[TunePart, ...]:
        return tuple(part for part in self.parts if isinstance(part, TunePart))


class SavedBook(BaseModel):
    """`made_from`: the number of the state that the page has. `keep_both`: where it is not the
    present one, this is kept as a state beside it."""

    book: BookAsked
    made_from: StateNumber
    keep_both: bool = False


class From(BaseModel):
    """`made_from`: the number of the state that the page has."""

    made_from: StateNumber


class PreviewAsked(BaseModel):
    """`page` of the drawn pages, or the page of what `at` names: a tune by its number, or a
    heading; the page goes before."""

    book: BookAsked
    page: Annotated[int, Field(ge=1, le=9999)] | None = None
    tune: ItemNumber | None = None
    at: Line = ""


class SiteAsked(BaseModel):
    slow: Annotated[int, Field(ge=10, le=100)] = 60
    sound: bool = True
    downloads: Annotated[list[Literal["abc", "musicxml", "midi", "pdf"]], Field(max_length=4)] = [
        "abc",
        "musicxml",
        "midi",
    ]
    shop: Line = ""
    shop_address: Address = ""

    def settings(self) -> SiteSettings:
        usual = SiteSettings()
        return SiteSettings(
            self.slow,
            self.sound,
            tuple(dict.fromkeys(self.downloads)),
            self.shop.strip() or usual.shop,
            self.shop_address,
        )
