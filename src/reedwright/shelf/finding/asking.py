"""What is wanted, from plain keys as a plan in TOML or a command line gives them.

    search = {type = "reel, hornpipe", key = "G", grade = "1-3", harp = "G, low D"}

Public: `wanted_from`, `KEYS`.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from math import isfinite
from typing import Any

from reedwright.datafiles import did_you_mean
from reedwright.errors import ReedwrightError
from reedwright.harp.making import parse_harps
from reedwright.harp.naming import parse_note
from reedwright.shelf.finding.model import Wanted
from reedwright.shelf.model import ShelfError
from reedwright.tune.likeness.contour import checked_contour

KEYS = (
    "words", "type", "key", "mode", "metre", "grade", "player", "range", "harp", "octaves",
    "taught", "taught_to", "list", "notes", "notes_key", "contour", "like", "field", "limit",
)  # fmt: skip

_SEVERAL = {"type": "types", "key": "keys", "mode": "modes", "metre": "metres"}
_TEXTS = {
    "words": "words", "player": "player", "taught_to": "taught_to", "list": "in_list",
    "notes": "notes", "notes_key": "notes_key",
}  # fmt: skip
_SPAN = re.compile(r"\s*(?:-|–|to|bis|\.\.)\s*")
HARDEST = 10.0  # docs/difficulty.md


def wanted_from(mapping: Mapping[str, object]) -> Wanted:
    """What a mapping asks for. Several types, keys, modes, metres and harps are a list, or
    text with commas; grades are `1-3` or `2`, a range `D4-B5`.

    Raises `ShelfError` that names the key.
    """
    found: dict[str, Any] = {}
    for key, value in mapping.items():
        if key in _SEVERAL:
            found[_SEVERAL[key]] = _several(key, value)
        elif key in _TEXTS:
            found[_TEXTS[key]] = _text(key, value)
        elif key == "grade":
            found["grades"] = _grades(value)
        elif key == "range":
            found["lowest"], found["highest"] = _range(_text(key, value))
        elif key == "harp":
            found["plain_on"] = _harps(value)
        elif key == "octaves":
            found["octaves"] = _octaves(value)
        elif key == "taught":
            found["taught"] = _yes_or_no(key, value)
        elif key == "contour":
            found["contour"] = _told(key, lambda text: "*" + checked_contour(text), value)
        elif key == "like":
            found["like"] = _whole(key, value, 1)
        elif key == "limit":
            found["limit"] = _whole(key, value, 1)
        elif key == "field":
            found["fields"] = _fields(value)
        else:
            hint = did_you_mean(key, KEYS) or "; use " + ", ".join(KEYS) + "."
            raise ShelfError(f"'{key}' is nothing to search by{hint}")
    return Wanted(**found)


def _text(key: str, value: object) -> str:
    if not isinstance(value, str):
        raise ShelfError(f"{key}: write text in quotes, not {value!r}.")
    return value


def _several(key: str, value: object) -> tuple[str, ...]:
    parts = value if isinstance(value, list | tuple) else _text(key, value).split(",")
    texts = tuple(_text(key, part).strip() for part in parts)
    if not texts or not all(texts):
        raise ShelfError(
            f"{key}: nothing is said. Leave it out, or write for example {_EXAMPLES[key]}."
        )
    return texts


_EXAMPLES = {"type": "'reel, jig'", "key": "'G, E dorian'", "mode": "'dorian'", "metre": "'6/8'"}


def _grades(value: object) -> tuple[float, float]:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return _whole_grade(float(value))
    if isinstance(value, list | tuple) and len(value) == 2:
        value = f"{value[0]}-{value[1]}"
    parts = _SPAN.split(_text("grade", value).strip())
    try:
        numbers = [float(part.replace(",", ".")) if part else None for part in parts]
    except ValueError:
        numbers = []
    if any(number is not None and not isfinite(number) for number in numbers):
        numbers = []
    if len(numbers) == 1 and numbers[0] is not None:
        return _whole_grade(numbers[0])
    if len(numbers) == 2 and numbers != [None, None]:
        low = 0.0 if numbers[0] is None else numbers[0]
        high = HARDEST if numbers[1] is None else numbers[1]
        if low <= high:
            return low, high
    raise ShelfError(f"grade: '{value}' is no span of grades; write 1-3, or 2.")


def _whole_grade(grade: float) -> tuple[float, float]:
    """`2` means all that is shown as 2 when rounded to a whole grade."""
    return (grade - 0.5, grade + 0.499) if grade == int(grade) else (grade, grade)


def _range(text: str) -> tuple[int, int]:
    match = re.fullmatch(r"\s*(\S+?\d)\s*(?:-|–|to|\.\.)\s*(\S+\d)\s*", text)
    if match is None:
        raise ShelfError(f"range: '{text}' is no range; write the lowest and highest note, D4-B5.")
    low, high = (_told("range", parse_note, note) for note in match.groups())
    if low > high:
        raise ShelfError(f"range: in '{text}' the lower note stands last; write D4-B5.")
    return low, high


def _harps(value: object) -> tuple[Any, ...]:
    text = (
        ", ".join(_text("harp", each) for each in value)
        if isinstance(value, list | tuple)
        else value
    )
    return tuple(_told("harp", parse_harps, text))


def _octaves(value: object) -> tuple[int, ...]:
    parts = value if isinstance(value, list | tuple) else [value]
    if not parts or not all(isinstance(part, int) and not isinstance(part, bool) for part in parts):
        raise ShelfError("octaves: write a list of whole numbers, such as [-1, 0, 1].")
    return tuple(parts)


def _yes_or_no(key: str, value: object) -> bool:
    if isinstance(value, bool):
        return value
    word = _text(key, value).strip().lower()
    if word in ("yes", "true"):
        return True
    if word in ("no", "false"):
        return False
    raise ShelfError(f"{key}: write true or false, not '{value}'.")


def _whole(key: str, value: object, least: int) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and value >= least:
        return value
    raise ShelfError(f"{key}: write a whole number from {least} on, not {value!r}.")


def _fields(value: object) -> dict[str, str]:
    if not isinstance(value, Mapping):
        raise ShelfError('field: write words by the letter of a field, {C = "nagle"}.')
    return {str(letter): _text(f"field {letter}", words) for letter, words in value.items()}


def _told(key: str, read: Any, value: object) -> Any:
    """What a reader of the house says to it, with the key before what it says is wrong."""
    try:
        return read(_text(key, value))
    except ReedwrightError as error:
        raise ShelfError(f"{key}: {error}") from None
