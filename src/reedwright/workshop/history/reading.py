"""Reading a history file: what is damaged is refused with its line.

Public: `read_history`.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from reedwright.harp.model import Breath, Reed
from reedwright.workshop.history.model import (
    Converted,
    Entry,
    HeardBeats,
    HeardReed,
    History,
    HistoryError,
    Measured,
    Noted,
)
from reedwright.workshop.history.writing import FORMAT

_WHAT_TO_DO = "Mend that line, or put back an earlier copy of the file; nothing was changed."
_ENTRY = re.compile(r"^[ \t]*\[\[[ \t]*entry[ \t]*\]\]", re.MULTILINE)


def read_history(path: Path, text: str) -> History:
    """The history in a file's text. Raises `HistoryError` with path, line and reason.

    Fields and kinds of entries that this version does not know are passed over here and stay in
    the file.
    """
    try:
        values = tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError as error:
        said = re.search(r" \(at line (\d+), .*\)$", str(error))
        line = said[1] if said else str(text.rstrip("\n").count("\n") + 1)  # at the end
        reason = re.sub(r" \(at .*\)$", "", str(error))
        raise HistoryError(f"{path}: line {line}: damaged: {reason}. {_WHAT_TO_DO}") from None
    if not isinstance(values.get("format"), int) or not isinstance(values.get("name"), str):
        raise HistoryError(f"{path}: line 1: no history of a harp: `format` and `name` are missing")
    if values["format"] > FORMAT:
        raise HistoryError(f"{path}: written by a later version of Reedwright; use that one")
    harp = values.get("harp")
    if not isinstance(harp, str):
        raise HistoryError(f"{path}: line 1: `harp` is missing. {_WHAT_TO_DO}")
    found: list[Entry] = []
    entries = values.get("entry", [])
    if not isinstance(entries, list):
        raise HistoryError(f"{path}: `entry` has to be written [[entry]]. {_WHAT_TO_DO}")
    lines = [text.count("\n", 0, match.start()) + 1 for match in _ENTRY.finditer(text)]
    for number, entry in enumerate(entries):
        try:
            found.append(_entry(entry))
        except (KeyError, TypeError, ValueError, OverflowError, AttributeError) as error:
            # In a text of several lines may stand what looks like an entry; then no line is sure.
            line = f"line {lines[number]}: " if len(lines) == len(entries) else ""
            reason = f"{error} is missing" if isinstance(error, KeyError) else str(error)
            raise HistoryError(
                f"{path}: {line}entry {number + 1} is damaged: {reason}. {_WHAT_TO_DO}"
            ) from None
    return History(values["name"], harp, path, tuple(found))


def _entry(values: Mapping[str, Any]) -> Entry:
    when = _date(values["date"])
    note = _text(values, "note", "")
    kind = _text(values, "kind", "note")
    if kind == "measurement":
        return Measured(
            when,
            _text(values, "when", "check"),
            tuple(_heard(key, each) for key, each in _table(values, "reeds").items()),
            _text(values, "tuned_to", ""),
            bool(values.get("at_bench", True)),
            float(values.get("shift", 0.0)),
            tuple(_beats(each) for each in values.get("beats", [])),
            note,
        )
    if kind == "conversion":
        works = tuple((_reed(key), str(each)) for key, each in _table(values, "works").items())
        return Converted(when, _text(values, "harp"), works, note)
    return Noted(when, note, kind)


def _heard(key: str, values: Mapping[str, Any]) -> HeardReed:
    hz = float(values["hz"])
    if not hz > 0:
        raise ValueError(f"{key}: hz has to be above 0")
    return HeardReed(
        _reed(key),
        hz,
        float(values.get("target", hz)),
        float(values.get("cents", 0.0)),
        float(values.get("uncertainty", 0.0)),
        float(values.get("wander", 0.0)),
        float(values.get("attack", 0.0)),
        float(values.get("level", 0.0)),
        int(values.get("tones", 1)),
        tuple(_reed(each) for each in values.get("or", [])),
    )


def _beats(values: Mapping[str, Any]) -> HeardBeats:
    one, other = (_reed(each) for each in values["reeds"])
    return HeardBeats((one, other), float(values["hz"]), float(values.get("uncertainty", 0.0)))


def _reed(text: str) -> Reed:
    match = re.fullmatch(r"(\d{1,2}) (blow|draw)", text)
    if match is None:
        raise ValueError(f"'{text}' is no reed; write 3 blow")
    return Reed(int(match[1]), Breath(match[2]))


def _date(value: object) -> datetime:
    """TOML's dates; one without an offset is of this place."""
    if isinstance(value, datetime):
        return value if value.tzinfo else value.astimezone()
    if isinstance(value, date):
        return datetime.combine(value, time()).astimezone()
    raise ValueError("date has to be such as 2026-11-28T14:30:00+01:00, without quotes")


def _text(values: Mapping[str, Any], key: str, default: str | None = None) -> str:
    value = values[key] if default is None else values.get(key, default)
    if not isinstance(value, str):
        raise ValueError(f"{key} has to be a text in quotes")
    return value


def _table(values: Mapping[str, Any], key: str) -> Mapping[str, Any]:
    value = values.get(key, {})
    if not isinstance(value, dict):
        raise ValueError(f"{key} has to be a table")
    return value
