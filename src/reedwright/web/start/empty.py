"""An empty tune, to write one's own into.

Public: `empty_tune`.
"""

from __future__ import annotations

from reedwright.shelf.model import ShelfError
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

_LETTERS = "ABCDEFG"


def empty_tune(title: str, type_: str, key: str, metre: str) -> Tune:
    """ABC with a head and the key's own note to begin with, as a tune has one.

    Raises `ShelfError` where key or metre are none.
    """
    head = {
        "X": "1",
        "T": _line(title) or "Untitled",
        "R": _line(type_),
        "M": _line(metre) or "none",
        "L": "1/8",
        "K": _line(key) or "none",
    }
    text = "".join(f"{code}:{words}\n" for code, words in head.items() if words)
    tonic = head["K"][0].upper()
    text += f"{tonic if tonic in _LETTERS and head['K'] != 'none' else 'C'}|]\n"
    found = read_abc(text)
    if len(found) != 1 or not isinstance(found[0], Tune):
        problem = getattr(found[0], "error", "") if found else ""
        raise ShelfError(f"No tune can begin like that. {problem}".strip())
    return found[0]


def _line(words: str) -> str:
    """On one line, and with nothing in it that ABC takes for the beginning of a comment."""
    return " ".join(words.split()).replace("%", "\\%")
