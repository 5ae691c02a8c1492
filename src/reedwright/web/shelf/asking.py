"""What the fields of the search form ask of the shelf.

Public: `Asked`, `asked_from`, `PAGE`, `KINDS`, `nothing_found`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from reedwright.errors import ReedwrightError
from reedwright.shelf.belongings.harps import harps_on
from reedwright.shelf.finding.asking import wanted_from
from reedwright.shelf.finding.model import Answer, Wanted
from reedwright.shelf.finding.searching import search
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ShelfError

PAGE = 50  # tunes shown at once; more are fetched as they are asked for
LONGEST = 500  # letters of one field
MOST = 1_000_000  # no shelf is that large; a number beyond it is no place in a list

TEXTS = ("words", "type", "key", "mode", "metre", "grade", "range", "harp", "taught_to", "list")
MUSIC = {"notes": "notes", "in_key": "notes_key", "contour": "contour"}
KINDS = {
    "words": "words",
    "type": "the type",
    "key": "the key",
    "mode": "the mode",
    "metre": "the metre",
    "grade": "the grade",
    "range": "the range",
    "harp": "the harps",
    "owned": "your own harps",
    "taught": "whether it was taught",
    "taught_to": "to whom it was taught",
    "list": "the list",
    "notes": "the notes",
    "contour": "the ups and downs",
    "like": "the likeness",
}
"""The fields by which a tune can be left out, and what each looks at."""


@dataclass(frozen=True, slots=True)
class Asked:
    """`fields`: what was filled in, by the name of the field, to be shown again to the letter."""

    fields: Mapping[str, str]

    @property
    def said(self) -> tuple[str, ...]:
        """The fields by which something can be left out that are filled in."""
        return tuple(name for name in KINDS if self.fields.get(name, "").strip())

    @property
    def folded(self) -> bool:
        """Whether nothing but words is asked for."""
        return not any(name != "words" for name in self.said)

    def field(self, name: str) -> str:
        """What was filled in; empty for nothing."""
        return self.fields.get(name, "")

    def query(self, **others: str | int) -> str:
        """As the end of an address."""
        return urlencode({**self.fields, **others})

    def wanted(self, shelf: Shelf, offset: int = 0, limit: int = PAGE) -> Wanted:
        """Raises `ShelfError` that names the field, `ReedwrightError`."""
        values: dict[str, object] = {}
        for name in (*TEXTS, *MUSIC):
            text = self.fields.get(name, "")
            if text.strip():
                values[MUSIC.get(name, name)] = text
        if self.fields.get("taught"):
            values["taught"] = self.fields["taught"]
        like = self.fields.get("like", "").strip()
        if like:
            if not (like.isascii() and like.isdecimal() and int(like) < MOST):
                raise ShelfError("like: write the number of a tune on the shelf.")
            values["like"] = int(like)
        if self.fields.get("anywhere"):
            values["octaves"] = [0, -1, 1]
        wanted = replace(wanted_from(values), offset=offset, limit=limit)
        if not self.fields.get("owned"):
            return wanted
        owned = tuple(dict.fromkeys(harp for _, harp in harps_on(shelf)))
        if not owned:
            raise ShelfError("There are no harps of yours on the shelf yet; add them on the bench.")
        return replace(wanted, plain_on=tuple(dict.fromkeys((*wanted.plain_on, *owned))))

    def answer(self, shelf: Shelf, offset: int = 0, limit: int = PAGE) -> Answer:
        """Raises as `search` does, besides."""
        return search(shelf, self.wanted(shelf, offset, limit))


_FIELDS = (*TEXTS, *MUSIC, "owned", "taught", "like", "anywhere")


def asked_from(query: Mapping[str, str]) -> Asked:
    """From an address; what is empty, too long for any search, or no field is left out."""
    return Asked({name: query[name][:LONGEST] for name in _FIELDS if query.get(name, "").strip()})


def nothing_found(shelf: Shelf, asked: Asked) -> tuple[str, ...]:
    """Why nothing is found: for each field how many tunes there are without it, and what to do."""
    if len(asked.said) < 2:
        return ()
    found = []
    for name in asked.said:
        fewer = Asked({key: text for key, text in asked.fields.items() if key != name})
        try:
            count = fewer.answer(shelf, limit=1).count
        except ReedwrightError:
            continue
        if count:
            what = "tune is" if count == 1 else "tunes are"
            found.append(f"Without {KINDS[name]}, {count:,} {what} found.")
    return tuple(found)
