"""The lists at the end of a book: titles, types, keys, harps, first notes.

Public: `Row`, `Group`, `Index`, `indexes`, `sorted_title`, `filed_title`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Sequence
from itertools import groupby
from typing import Any, NamedTuple

from reedwright.page.book.model import TuneEntry
from reedwright.tab.difficulty.scale import grade_text

_ARTICLE = re.compile(r"(?i)^(the|an|a)\s+(?=\S)")
_ARTICLE_BEHIND = re.compile(r"(?i),\s*(the|an|a)$")
_NOT_SORTED = re.compile(r"[^\w\s]|_")  # accents that were taken apart, too
# Letters that do not come apart into a letter and an accent (Unicode, NFKD).
_FOLDED = str.maketrans({"ø": "o", "đ": "d", "ł": "l", "æ": "ae", "œ": "oe", "ß": "ss", "þ": "th"})
OTHER = "0–9"  # the group of titles that do not begin with a letter
NO_TYPE, NO_KEY = "type not told", "no key"


class Row(NamedTuple):
    """A line: its text, a quieter one behind it, and the tune's place in the book."""

    text: str
    note: str
    tune: int
    also: bool = False


class Group(NamedTuple):
    label: str
    rows: tuple[Row, ...]


class Index(NamedTuple):
    """`name`: one word for the running head; `words`: how it is to be used; `kind`: titles, groups
    or melodies."""

    title: str
    name: str
    words: str
    kind: str
    groups: tuple[Group, ...]


def indexes(tunes: Sequence[TuneEntry]) -> tuple[Index, ...]:
    """All that a book of these tunes needs; one of a single group is left out."""
    grouped = (
        Index(
            "Tunes by type",
            "Types",
            "",
            "groups",
            _by(tunes, lambda tune: tune.type.casefold(), lambda t: t.type or NO_TYPE, _key_note),
        ),
        Index(
            "Tunes by key",
            "Keys",
            "",
            "groups",
            _by(tunes, _key_order, lambda tune: _plain_key(tune) or NO_KEY, _type_note),
        ),
        Index(
            "Tunes for each harp",
            "Harps",
            "Behind each title: its key and position on this harp, and its grade.",
            "groups",
            _by(tunes, lambda tune: tune.harp.casefold(), lambda tune: tune.harp, _harp_note),
        ),
    )
    return (
        _titles(tunes),
        *(index for index in grouped if len(index.groups) > 1 or index.name == "Harps"),
        _melodies(tunes),
    )


def sorted_title(title: str) -> tuple[str, str]:
    """What titles are sorted by: without accents, article and punctuation; then as it is."""
    plain = unicodedata.normalize("NFKD", title.casefold()).translate(_FOLDED)
    plain = _ARTICLE.sub("", _ARTICLE_BEHIND.sub("", plain.strip()))
    return " ".join(_NOT_SORTED.sub("", plain).split()), title


def filed_title(title: str) -> str:
    """The article behind: `The Paper Sail` -> `Paper Sail, The`."""
    article = _ARTICLE.match(title.strip())
    return f"{title.strip()[article.end() :]}, {article[1]}" if article else title


def _letter(title: str) -> str:
    first = sorted_title(title)[0][:1].upper()
    return first if first.isalpha() else OTHER


def _titles(tunes: Sequence[TuneEntry]) -> Index:
    rows = [
        Row(filed_title(title), "", place, also=title != tune.title)
        for place, tune in enumerate(tunes)
        for title in dict.fromkeys((tune.title, *tune.also))
    ]
    rows.sort(key=lambda row: (_letter(row.text) != OTHER, *sorted_title(row.text), row.tune))
    groups = tuple(
        Group(letter, tuple(found)) for letter, found in groupby(rows, lambda r: _letter(r.text))
    )
    words = "Other names of a tune stand in italics." if any(row.also for row in rows) else ""
    return Index("Index of titles", "Titles", words, "titles", groups)


def _by(
    tunes: Sequence[TuneEntry],
    order: Callable[[TuneEntry], Any],
    label: Callable[[TuneEntry], str],
    note: Callable[[TuneEntry], str],
) -> tuple[Group, ...]:
    places = sorted(
        range(len(tunes)), key=lambda p: (order(tunes[p]), sorted_title(tunes[p].title), p)
    )
    return tuple(
        Group(
            label(tunes[found[0]])[:1].upper() + label(tunes[found[0]])[1:],
            tuple(Row(filed_title(tunes[p].title), note(tunes[p]), p) for p in found),
        )
        for _, several in groupby(places, key=lambda place: order(tunes[place]))
        for found in [list(several)]
    )


def _plain_key(tune: TuneEntry) -> str:
    return tune.key.removesuffix(" (estimated)")


def _key_order(tune: TuneEntry) -> tuple[bool, str]:
    return not tune.key, _plain_key(tune).replace("♭", "1").replace("♯", "2")


def _key_note(tune: TuneEntry) -> str:
    return _plain_key(tune)


def _type_note(tune: TuneEntry) -> str:
    return tune.type


def _harp_note(tune: TuneEntry) -> str:
    place = f"{_plain_key(tune)}, {_ordinal(tune.position)}" if tune.position else "no key"
    return f"{place}, {grade_text(tune.grade)}"


def _ordinal(number: int) -> str:
    ending = {1: "st", 2: "nd", 3: "rd"}.get(number if number < 20 else number % 10, "th")
    return f"{number}{ending}"


def _melodies(tunes: Sequence[TuneEntry]) -> Index:
    def order(place: int) -> tuple[object, ...]:
        steps: Any = tunes[place].page["melody"]
        return (tuple(steps), sorted_title(tunes[place].title), place)

    places = sorted((p for p in range(len(tunes)) if tunes[p].begins), key=order)
    rows = tuple(Row(tunes[p].begins, filed_title(tunes[p].title), p) for p in places)
    groups = tuple(
        Group(f"Begins on {step}", tuple(found))
        for step, found in groupby(rows, lambda row: row.text[:1])
    )
    words = (
        "How tunes begin, sorted by the steps of their scale from the first full bar on: first all "
        "that begin on step 1, the tonic, then those on 2, and so on; of these by the second note, "
        "lower ones before higher. So a tune is found whatever key it was heard in."
    )
    return Index("Index of first notes", "First notes", words, "melodies", groups)
