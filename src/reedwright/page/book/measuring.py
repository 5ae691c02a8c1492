"""How high words are, told by Typst with the very template that prints them.

Public: `heights_of`, `unprintable`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from functools import cache
from typing import Any

from reedwright.page.press import HERE, Press

MEASURES = HERE / "templates" / "book-measures.typ"


@cache
def _press() -> Press:
    return Press(MEASURES)


def heights_of(data: Mapping[str, object]) -> Mapping[str, Any]:
    """What the template tells of `tune` and `ways` (`head`, `below`) or of a `story`, mm."""
    (heights,) = _press().told(data, "<heights>")
    found: Mapping[str, Any] = heights
    return found


def unprintable() -> Collection[str]:
    """Letters in the words measured so far that no font has."""
    return _press().unprintable
