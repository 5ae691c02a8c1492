"""The values of the shelf: items, their states, and how items belong together.

Everything kept is an `Item` of some kind. What it says stands in its `State`; a change adds a
state and keeps all earlier ones, so that any change can be undone. Nothing of music is known here:
a tune is an item whose state is ABC (or a file of MusicXML or MIDI), an arrangement one whose
state is an arrangement file (docs/choices.md), and so on; docs/shelf.md has the forms.

Public: `Kind`, `Form`, `Role`, `State`, `Item`, `Link`, `ShelfError`, `NotOnShelf`,
`ChangedMeanwhile`, `ShelfNotUsable`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

from reedwright.errors import ReedwrightError


class ShelfError(ReedwrightError):
    """Something that cannot be done with the shelf."""


class NotOnShelf(ShelfError):
    """No item of that number, name or kind is on the shelf."""


class ChangedMeanwhile(ShelfError):
    """The item is no longer in the state that the change was made from; both are kept."""


class ShelfNotUsable(ShelfError):
    """The file cannot be opened, is damaged, or was written by a newer version."""


class Kind(StrEnum):
    """What an item is."""

    TUNE = "tune"
    ARRANGEMENT = "arrangement"
    PROFILE = "profile"
    HARP = "harp"
    TAKE = "take"
    PACK = "pack"
    LESSON = "lesson"
    LIST = "list"  # tunes that somebody put together: a set, an evening, a course


class Form(StrEnum):
    """How a state is written. MusicXML and MIDI, sound and zips are attachments."""

    ABC = "abc"
    MUSICXML = "musicxml"
    MIDI = "midi"
    TOML = "toml"
    JSON = "json"
    TEXT = "text"
    FILE = "file"


class Role(StrEnum):
    """How one item belongs to another."""

    OF = "of"  # an arrangement, take or pack of a tune
    ON = "on"  # a list's or a lesson's tunes, in order
    BY = "by"  # an arrangement for a player's profile


@dataclass(frozen=True, slots=True)
class State:
    """What an item said from some moment on.

    `number` counts an item's states from 1; `parent` is the number of the state that it was made
    from (0 for the first). `at` is UTC. `said` tells in a few words what was done. `text` is the
    content, unchanged to the letter; where that is a file, `attachment` is its SHA-256 in hex.
    `about` holds small facts that are not in the content: for a tune `file`, `line`.
    """

    number: int
    parent: int
    at: datetime
    said: str
    form: Form
    text: str = ""
    attachment: str = ""
    about: Mapping[str, str | int] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Item:
    """Something on the shelf, in its present state.

    `id` counts within this file; `uid` (32 hex digits) stays the same through export and bringing
    back. `removed`: taken off the shelf, and kept until it is put back or cleared out.
    """

    id: int
    uid: str
    kind: Kind
    name: str
    state: State
    removed: bool = False


@dataclass(frozen=True, slots=True)
class Link:
    """`item` belongs to `to` in this role; `place` orders the links of one item, from 0."""

    item: int
    to: int
    role: Role
    place: int = 0
