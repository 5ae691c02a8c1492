"""What of an import is on the shelf already.

A tune is known by its text: all of it to the letter, but for its number (`X:`) and the ends of its
lines, together with the fields at the head of its file that bear on it; or by the bytes of its
file. All states count, earlier ones and those of removed tunes too: a tune that
was changed or removed on the shelf does not come in again because its file still stands there.

A tune whose text is new, but that stands in the same file under the same number and title as one on
the shelf, is that one, changed in the file since.

Public: `same_tune`, `changed_tune`, `Match`, `Earlier`.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Container
from typing import NamedTuple

from reedwright.shelf.facts.reading import FILE, HEADER, LINE
from reedwright.shelf.filling.cutting import Piece
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form


class Match(NamedTuple):
    """An item that has the piece's text in some state; `present`: it has it now."""

    item: int
    removed: bool
    present: bool


class Earlier(NamedTuple):
    """An item that an earlier state of a file's tune became; `edited`: its text is not the file's
    any more."""

    item: int
    edited: bool


def same_tune(shelf: Shelf, piece: Piece) -> Match | None:
    """The item whose text this is, in one of its states. Tunes on the shelf go before removed ones,
    present states before earlier ones."""
    if piece.form is Form.ABC:
        rest = _after_number(piece.text)
        rows = shelf.db.execute(
            "SELECT state.item, item.removed, state.number = item.state, state.text, state.about "
            "FROM state JOIN item ON item.id = state.item AND item.kind = 'tune' "
            "WHERE state.form = 'abc' AND length(text) - instr(text, char(10)) = ? "
            "AND substr(text, instr(text, char(10)) + 1, 80) = ?",
            (len(rest), rest[:80]),
        )
        found = [
            Match(row[0], bool(row[1]), bool(row[2]))
            for row in rows
            if _same_text(row[3], piece.text) and _header(row[4]) == piece.header
        ]
    else:
        sha256 = hashlib.sha256(piece.content or b"").hexdigest()
        rows = shelf.db.execute(
            "SELECT state.item, item.removed, state.number = item.state "
            "FROM state JOIN item ON item.id = state.item AND item.kind = 'tune' "
            "WHERE state.attachment = ?",
            (sha256,),
        )
        found = [Match(row[0], bool(row[1]), bool(row[2])) for row in rows]
    return min(found, key=lambda match: (match.removed, not match.present), default=None)


def changed_tune(shelf: Shelf, piece: Piece, title: str, taken: Container[int]) -> Earlier | None:
    """The one item that came from this place of this file; None where there is none, or several.

    `title` is the tune's as it was read. `taken`: items that other tunes of this import are.
    """
    query = (
        "SELECT item.id, state.about FROM state "
        "JOIN item ON item.id = state.item AND item.state = state.number "
        "WHERE item.kind = 'tune' AND item.removed = 0 AND json_extract(about, '$.file') = ? "
    )
    if piece.form is Form.ABC:
        rows = shelf.db.execute(
            query + "AND json_extract(about, '$.number') = ? AND state.name = ?",
            (piece.file, piece.number, title),
        )
    else:
        rows = shelf.db.execute(query, (piece.file,))
    found = [(int(row[0]), LINE not in json.loads(row[1])) for row in rows if row[0] not in taken]
    return Earlier(*found[0]) if len(found) == 1 else None


def came_from(shelf: Shelf, item: int, piece: Piece) -> bool:
    """Whether the item's present text is one that this file had."""
    about = shelf.item(item).state.about
    return about.get(FILE) == piece.file and LINE in about


def _after_number(text: str) -> str:
    """The text after its first line, which is the number."""
    return text.partition("\n")[2]


def _same_text(one: str, other: str) -> bool:
    if one.startswith("X:") and other.startswith("X:"):
        return _after_number(one) == _after_number(other)
    return one == other


def _header(about: str) -> str:
    return str(json.loads(about).get(HEADER, ""))
