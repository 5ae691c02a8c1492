"""What is odd or wrong in a tune's text, with the stretch of text that it is about.

Public: `Problem`, `of_tune`, `of_error`, `more_tunes`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from reedwright.tune.abc.errors import AbcError
from reedwright.tune.model import Place, Tune

_QUOTED = re.compile(r"'([^']+)'")
_WORD = re.compile(r"[^\s|]+")
_NUMBER_LINE = re.compile(r"\s?X:")
_FIELD_LINE = re.compile(r"[A-Za-z]:")


class Problem(NamedTuple):
    """`line`, `column` and `length` count characters, the first two from 1; a line ends with a
    line feed. An "error" is what leaves the text without a reading."""

    line: int
    column: int
    length: int
    message: str
    severity: Literal["error", "warning"]


def of_tune(tune: Tune, lines: Sequence[str]) -> Iterator[Problem]:
    """What the reader told of a tune that it could read. `lines`: of its text."""
    for each in tune.problems:
        told = each.bar is None or f"bar {each.bar}" in each.message
        message = each.message if told else f"bar {each.bar}: {each.message}"
        yield _problem(each.place, _sentence(message), "warning", lines)


def of_error(error: AbcError, lines: Sequence[str]) -> Problem:
    """Why a text could not be read."""
    message = _sentence(error.reason)
    if error.advice:
        message += f" {_sentence(error.advice)}"
    return _problem(error.place, message, "error", lines)


def more_tunes(lines: Sequence[str]) -> Iterator[Problem]:
    """A text is one tune; where another `X:` begins, what follows is read as more of the first."""
    found = [number for number, line in enumerate(lines, 1) if _NUMBER_LINE.match(line)]
    for number in found[1:2]:
        yield Problem(
            number,
            1,
            max(1, len(lines[number - 1])),
            "A second tune begins here, and is read as more of the first. Make it a tune of its "
            "own.",
            "warning",
        )


def _problem(
    place: Place, message: str, severity: Literal["error", "warning"], lines: Sequence[str]
) -> Problem:
    if place.line < 1:  # the fields at the head of the book that the tune comes from
        first = lines[0] if lines else ""
        message = f"At the head of its book: {message}"
        return Problem(1, 1, max(1, len(first)), message, severity)
    line = min(place.line, max(1, len(lines)))
    text = lines[line - 1] if lines else ""
    column = max(1, min(place.column, len(text) or 1))
    return Problem(line, column, _length(text, column, message), message, severity)


def _length(text: str, column: int, message: str) -> int:
    """How many characters it is about: what the message quotes, a field's line, or a word."""
    rest = text[column - 1 :]
    quoted = _QUOTED.search(message)
    if quoted and rest.startswith(quoted[1]):
        return len(quoted[1])
    if column == 1 and (_FIELD_LINE.match(text) or not text.strip()):
        return max(1, len(text))
    word = _WORD.match(rest)
    return len(word[0]) if word else 1


def _sentence(text: str) -> str:
    text = text.strip()
    return f"{text[:1].upper()}{text[1:]}" + ("" if text.endswith((".", "!", "?")) else ".")
