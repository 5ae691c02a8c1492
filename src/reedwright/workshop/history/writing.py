"""The text of a history file: its head, and of each entry that is added at its end.

The text is TOML 1.0. What stands in a file is never written anew: an entry is added as text, so
that comments, order and fields that this version does not know stay as they are.

Public: `head_text`, `entry_text`.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from datetime import datetime, timedelta

from reedwright.harp.model import Reed
from reedwright.workshop.history.model import (
    Converted,
    Entry,
    HeardReed,
    HistoryError,
    Measured,
)

FORMAT = 1


def head_text(name: str, harp: str) -> str:
    """The beginning of a new file."""
    return (
        "# What was measured and done on one harp. Entries are added at the end; notes of your\n"
        "# own may stand anywhere behind a #.\n"
        f"format = {FORMAT}\n"
        f"name = {_quoted(name)}\n"
        f"harp = {_quoted(harp)}\n"
    )


def entry_text(entry: Entry) -> str:
    """One entry, to be added at the end of a file."""
    lines = ["", "[[entry]]", f"date = {date_text(entry.date)}"]
    if isinstance(entry, Measured):
        lines += _measured(entry)
    elif isinstance(entry, Converted):
        lines += [
            'kind = "conversion"',
            f"harp = {_quoted(entry.harp)}",
            *_note(entry.note),
        ]
        if entry.works:
            lines.append("[entry.works]")
            lines += [f"{_key(reed)} = {_quoted(words)}" for reed, words in entry.works]
    else:
        lines += [f"kind = {_quoted(entry.kind)}", *_note(entry.note)]
    return "\n".join(lines) + "\n"


def date_text(date: datetime) -> str:
    """ISO 8601 (RFC 3339) with the offset of the place, to the second."""
    offset = date.utcoffset()
    if offset is None:
        date = date.astimezone()
    elif offset % timedelta(minutes=1):
        raise HistoryError(f"date: the offset of {date} is no whole number of minutes")
    return date.isoformat(timespec="seconds")


def _measured(entry: Measured) -> Iterable[str]:
    yield 'kind = "measurement"'
    yield f"when = {_quoted(entry.when)}"
    yield f"tuned_to = {_quoted(entry.tuned_to)}"
    yield f"at_bench = {'true' if entry.at_bench else 'false'}"
    yield f"shift = {_number(entry.shift, 2)}"
    yield from _note(entry.note)
    for beats in entry.beats:
        yield "[[entry.beats]]"
        yield f"reeds = [{', '.join(_key(reed) for reed in beats.reeds)}]"
        yield f"hz = {_number(beats.rate, 3)}"
        yield f"uncertainty = {_number(beats.uncertainty, 3)}"
    if entry.reeds:
        yield "[entry.reeds]"
        for each in entry.reeds:
            yield f"{_key(each.reed)} = {{ {_heard(each)} }}"


def _heard(each: HeardReed) -> str:
    said = [
        f"hz = {_number(each.hz, 4)}",
        f"target = {_number(each.target_hz, 4)}",
        f"cents = {_number(each.cents, 2)}",
        f"uncertainty = {_number(each.uncertainty, 2)}",
        f"wander = {_number(each.wander, 2)}",
        f"attack = {_number(each.attack, 3)}",
        f"level = {_number(each.level, 1)}",
        f"tones = {each.tones}",
    ]
    if each.others:
        said.append(f"or = [{', '.join(_key(reed) for reed in each.others)}]")
    return ", ".join(said)


def _note(text: str) -> list[str]:
    return [f"note = {_quoted(text)}"] if text else []


def _key(reed: Reed) -> str:
    return f'"{reed.hole} {reed.breath.value}"'


def _number(value: float, places: int) -> str:
    """A TOML float: always with a point, no minus before nothing."""
    text = f"{float(value):.{places}f}"
    return text[1:] if float(text) == 0 and text.startswith("-") else text


def _quoted(text: str) -> str:
    """A TOML basic string. A text of several lines stays readable as such.

    JSON's strings are TOML's but for DEL, which TOML wants escaped.
    """
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        raise HistoryError(
            f"{text!r}: some of its letters cannot be written; type it anew"
        ) from None
    escaped = json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
    if "\n" not in text:
        return escaped
    inside = re.sub(r"(?<!\\)((?:\\\\)*)\\n", r"\1\n", escaped[1:-1])
    return f'"""\n{inside}"""'
