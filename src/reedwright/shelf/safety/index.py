"""The index of an export: what each of its files is, one line of JSON for each item.

The first line is the head: `{"reedwright shelf": 1, "at": ..., "items": ...}`. Each further line is
an item with its states. A state names the file with its text and the file that was attached to it,
each with its SHA-256, by its place in the export's folder with `/` between folders. Items are named
by `uid`, as their numbers are of one shelf alone. docs/shelf-safety.md has the form.

Public: `ItemLine`, `StateLine`, `FileLine`, `written_head`, `written_line`, `read_head`,
`read_line`, `INDEX`, `FORM`, `NotAnIndex`.
"""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePosixPath
from typing import Any

from reedwright.shelf.model import Form, Kind, Role, ShelfError

INDEX = "index.jsonl"
FORM = 1
_HEAD = "reedwright shelf"
_UID = re.compile(r"[0-9a-f]{32}")
_SHA256 = re.compile(r"[0-9a-f]{64}")


class NotAnIndex(ShelfError):
    """A line that cannot be understood, or a file that is no index of an export."""


@dataclass(frozen=True, slots=True)
class FileLine:
    """A file of the export by its place, and the SHA-256 of what is in it in hex."""

    place: str
    sha256: str


@dataclass(frozen=True, slots=True)
class StateLine:
    """A state as `State` has it, with its name and links; `at` as it is kept (ISO 8601)."""

    number: int
    parent: int
    at: str
    said: str
    name: str
    form: Form
    about: dict[str, str | int]
    links: tuple[tuple[Role, str], ...] = ()  # role and uid, in order
    text: FileLine | None = None
    attachment: FileLine | None = None


@dataclass(frozen=True, slots=True)
class ItemLine:
    """An item with all its states. `present`: the number of the present one; `left_at`: of the one
    that redoing leads to, 0 where there is nothing to redo."""

    uid: str
    kind: Kind
    removed: bool
    present: int
    left_at: int
    states: tuple[StateLine, ...]


def written_head(at: str, items: int) -> str:
    return json.dumps({_HEAD: FORM, "at": at, "items": items})


def written_line(item: ItemLine) -> str:
    """The item as one line, without its end."""
    now = next(state for state in item.states if state.number == item.present)
    line: dict[str, object] = {"name": now.name, "kind": item.kind.value, "uid": item.uid}
    if item.removed:
        line["removed"] = True
    line["present"] = item.present
    if item.left_at:
        line["left_at"] = item.left_at
    line["states"] = [_state_json(state) for state in item.states]
    return json.dumps(line, ensure_ascii=False)


def _state_json(state: StateLine) -> dict[str, object]:
    found: dict[str, object] = {
        "number": state.number,
        "made_from": state.parent,
        "at": state.at,
        "said": state.said,
        "name": state.name,
        "form": state.form.value,
    }
    if state.about:
        found["about"] = state.about
    if state.links:
        found["links"] = [[role.value, uid] for role, uid in state.links]
    for key, file in (("text", state.text), ("attachment", state.attachment)):
        if file is not None:
            found[key] = {"file": file.place, "sha256": file.sha256}
    return found


def read_head(line: str) -> int:
    """How many items follow. Raises `NotAnIndex`."""
    try:
        head = json.loads(line)
        form, items = int(head[_HEAD]), int(head["items"])
    except (ValueError, TypeError, LookupError):
        raise NotAnIndex("not the index of an export of the shelf") from None
    if form > FORM:
        raise NotAnIndex(f"written by a newer Reedwright (form {form}); install the newer one")
    return items


def read_line(line: str) -> ItemLine:
    """An item and its states. Raises `NotAnIndex`, which says what is wrong."""
    try:
        found = json.loads(line)
        states = tuple(_state(each) for each in found["states"])
        item = ItemLine(
            _matching(_UID, found["uid"]),
            Kind(found["kind"]),
            bool(found.get("removed", False)),
            _whole(found["present"]),
            _whole(found.get("left_at", 0)),
            states,
        )
    except KeyError as error:
        raise NotAnIndex(f"{error} is missing") from None
    except (ValueError, TypeError, AttributeError, RecursionError) as error:
        raise NotAnIndex(str(error)) from None
    numbers = [state.number for state in states]
    if not numbers or numbers != sorted(set(numbers)):
        raise NotAnIndex("its states are not in order")
    if item.present not in numbers:
        raise NotAnIndex(f"its present state, {item.present}, is missing")
    return item


def _state(found: Any) -> StateLine:
    number, parent = _whole(found["number"]), _whole(found["made_from"])
    if number < 1 or not 0 <= parent < number:
        raise ValueError(f"state {number} can't be made from state {parent}")
    about = found.get("about", {})
    if not isinstance(about, dict) or not all(isinstance(v, str | int) for v in about.values()):
        raise ValueError(f"what is told about state {number} can't be read")
    datetime.fromisoformat(found["at"])
    return StateLine(
        number,
        parent,
        _words(found["at"]),
        _words(found["said"]),
        _words(found["name"]),
        Form(found["form"]),
        about,
        tuple((Role(role), _matching(_UID, uid)) for role, uid in found.get("links", ())),
        _file(found.get("text")),
        _file(found.get("attachment")),
    )


def _file(found: Any) -> FileLine | None:
    if found is None:
        return None
    place = PurePosixPath(_words(found["file"]))
    if place.is_absolute() or ".." in place.parts or "\\" in str(place) or ":" in str(place):
        raise ValueError(f"{place} lies outside the export")
    return FileLine(str(place), _matching(_SHA256, found["sha256"]))


def _whole(value: object) -> int:
    if not isinstance(value, int) or isinstance(value, bool):
        raise ValueError(f"{value!r} is no number of a state")
    return value


def _words(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is no text")
    return value


def _matching(pattern: re.Pattern[str], value: object) -> str:
    if not isinstance(value, str) or not pattern.fullmatch(value):
        raise ValueError(f"{value!r} is not what a name by number should be")
    return value
