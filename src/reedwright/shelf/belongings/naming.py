"""An item found by what a person calls it: its number, its name, or a part of that.

Public: `named_item`, `named_tunes`.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence

from reedwright.datafiles import did_you_mean
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind, NotOnShelf, ShelfError

_MOST_TOLD = 6  # items that one message names
_WITH_ARTICLE = {Kind.ARRANGEMENT: "an arrangement"}


def named_item(shelf: Shelf, called: str, kind: Kind) -> Item:
    """The item of a kind with that number or name; else the one whose name has these letters.

    Removed items are found by number alone. Raises `NotOnShelf` where there is none, and
    `ShelfError` where several are called so.
    """
    wanted = called.strip()
    if wanted.removeprefix("#").isdecimal():
        found = shelf.item(int(wanted.removeprefix("#")))
        if found.kind is not kind:
            raise NotOnShelf(
                f"Number {found.id} on the shelf is {_article(found.kind)} ('{found.name}'), "
                f"not {_article(kind)}."
            )
        return found
    # Names alone: what the items say would be long in reading, where tunes are many.
    every: list[tuple[int, str]] = [
        (row[0], row[1])
        for row in shelf.db.execute(
            "SELECT id, name FROM item WHERE kind = ? AND removed = 0 ORDER BY id", (kind,)
        )
    ]
    plain = _plain(wanted)
    alike = [each for each in every if _plain(each[1]) == plain]
    alike = alike or [each for each in every if plain in _plain(each[1])]
    if not alike:
        hint = did_you_mean(wanted, [name for _, name in every])
        raise NotOnShelf(f"There is no {kind.value} called '{wanted}' on the shelf{hint}.")
    if len(alike) > 1:
        told = ", ".join(f"{number} ({name})" for number, name in alike[:_MOST_TOLD])
        more = f" and {len(alike) - _MOST_TOLD} more" if len(alike) > _MOST_TOLD else ""
        raise ShelfError(f"'{wanted}' could be {told}{more}: say which number.")
    return shelf.item(alike[0][0])


def named_tunes(shelf: Shelf, called: Sequence[str]) -> tuple[Item, ...]:
    """The tunes of these numbers or titles, in this order. Raises as `named_item`."""
    return tuple(named_item(shelf, each, Kind.TUNE) for each in called)


def _article(kind: Kind) -> str:
    return _WITH_ARTICLE.get(kind, f"a {kind.value}")


def _plain(name: str) -> str:
    """Without accents, large letters and runs of spaces."""
    letters = unicodedata.normalize("NFKD", name)
    bare = "".join(sign for sign in letters if not unicodedata.combining(sign))
    return " ".join(bare.replace("’", "'").casefold().split())
