"""Everything on the shelf written out as plain files that people can read, and any program.

Tunes as ABC (MusicXML and MIDI as they were), arrangements, profiles, harps and lists as TOML,
lessons as text, recordings and packs to the byte; earlier states in `history/`. `index.jsonl` says
what belongs to what (`index`). The folder is there whole, or not at all.

File names hold small letters, digits and hyphens alone and are short, so that every system takes
them; no folder has many more than a thousand files.

Public: `export`, `ExportReport`.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path

from reedwright.files import NotWritten
from reedwright.folders.names import unused_file_name
from reedwright.folders.placing import built_aside
from reedwright.shelf.keeping.attachments import file_sha256
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Kind, Role
from reedwright.shelf.safety.index import (
    INDEX,
    FileLine,
    ItemLine,
    StateLine,
    written_head,
    written_line,
)
from reedwright.shelf.safety.verdicts import write_verdicts

Progress = Callable[[float, str], None]

IN_ONE_FOLDER = 1000  # files; file managers and some file systems grow slow beyond
TELL_EACH = 100  # items

FOLDERS = {
    Kind.TUNE: "tunes",
    Kind.ARRANGEMENT: "arrangements",
    Kind.PROFILE: "profiles",
    Kind.HARP: "harps",
    Kind.TAKE: "takes",
    Kind.PACK: "packs",
    Kind.LESSON: "lessons",
    Kind.LIST: "lists",
}
HISTORY = "history"
_ENDINGS = {
    Form.ABC: ".abc",
    Form.MUSICXML: ".musicxml",
    Form.MIDI: ".mid",
    Form.TOML: ".toml",
    Form.JSON: ".json",
    Form.TEXT: ".txt",
    Form.FILE: ".bin",
}
_ENDING = re.compile(r"\.[a-z0-9]{1,8}$")

READ_ME = """\
This is everything that was on a Reedwright shelf, as plain files.

Each kind of thing has its folder: tunes, arrangements, lists and so on. What a thing said before it
was changed is in the folder history. index.jsonl lists them all: names, times, and what
belongs to what. To make a shelf of it again, or to add it to one:

    reedwright shelf bring-back THIS-FOLDER

Files that were changed here by hand are told of then, and not brought back.
"""

_STATES = (
    "SELECT item.id, uid, kind, removed, item.state AS present, left_at, number, parent, at, said, "
    "state.name, form, text, attachment, about, links "
    "FROM item JOIN state ON state.item = item.id ORDER BY item.id, number"
)


@dataclass(frozen=True, slots=True)
class ExportReport:
    """What was written; `problems`: attachments that were lost or damaged before, one sentence
    each. The rest is written all the same."""

    items: int
    states: int
    files: int
    problems: tuple[str, ...] = ()


def export(shelf: Shelf, to: Path, progress: Progress | None = None) -> ExportReport:
    """Write everything to the folder `to`, which must not be there yet, or be empty.

    It is as the shelf is at one moment; others may write meanwhile. Raises `NotWritten`.
    """
    if to.exists() and (not to.is_dir() or any(to.iterdir())):
        raise NotWritten(f"{to}: there is something in that place already. Choose another name.")
    place = to.absolute()
    with built_aside(place.parent, place.name) as folder, shelf.reading():
        return _Export(shelf, folder, progress or (lambda share, doing: None)).run()


@dataclass(slots=True)
class _Folder:
    """A folder of the export, gone on in another one whenever it is full."""

    place: str
    files: int = 0
    names: set[str] = field(default_factory=set)

    def next_place(self, title: str, number: str, ending: str) -> str:
        """The place of a file that is called for its title. Clears the names when it is full."""
        if self.files and self.files % IN_ONE_FOLDER == 0:
            self.names.clear()
        self.files += 1
        name = unused_file_name(title, number, self.names)
        self.names.add(name)
        first = (self.files - 1) // IN_ONE_FOLDER * IN_ONE_FOLDER + 1
        within = "" if first == 1 else f"/from-{first}"
        return f"{self.place}{within}/{name}{ending}"


@dataclass(slots=True)
class _Export:
    shelf: Shelf
    folder: Path
    tell: Progress
    folders: dict[str, _Folder] = field(default_factory=dict)
    made: set[Path] = field(default_factory=set)
    attached: dict[str, FileLine | None] = field(default_factory=dict)  # by SHA-256
    uids: dict[int, str] = field(default_factory=dict)
    names: dict[int, str] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    states: int = 0
    files: int = 0

    def run(self) -> ExportReport:
        for row in self.shelf.db.execute("SELECT id, uid, name FROM item"):
            self.uids[row[0]], self.names[row[0]] = row[1], row[2]
        (self.folder / "READ-ME.txt").write_bytes(READ_ME.encode())
        now = datetime.now(UTC).isoformat(timespec="seconds")
        with (self.folder / INDEX).open("w", encoding="utf-8", newline="\n") as index:
            index.write(written_head(now, len(self.uids)) + "\n")
            for done, item in enumerate(self._items()):
                index.write(written_line(item) + "\n")
                if done % TELL_EACH == 0:
                    self.tell(done / len(self.uids), "writing files")
        write_verdicts(self.shelf, self.folder)
        self.tell(1.0, "writing files")
        return ExportReport(len(self.uids), self.states, self.files, tuple(self.problems))

    def _items(self) -> Iterator[ItemLine]:
        rows = self.shelf.db.execute(_STATES)
        for _, group in groupby(rows, key=lambda row: int(row["id"])):
            states = list(group)
            first = states[0]
            self.states += len(states)
            yield ItemLine(
                first["uid"],
                Kind(first["kind"]),
                bool(first["removed"]),
                first["present"],
                first["left_at"],
                tuple(self._state(row) for row in states),
            )

    def _state(self, row: sqlite3.Row) -> StateLine:
        text = None
        if row["text"]:
            text = self._write(row, row["text"].encode())
        attachment = None
        if row["attachment"] is not None:
            attachment = self._attach(row)
        return StateLine(
            row["number"],
            row["parent"],
            row["at"],
            row["said"],
            row["name"],
            Form(row["form"]),
            json.loads(row["about"]),
            tuple(
                (Role(role), self.uids[other])
                for role, other in json.loads(row["links"])
                if other in self.uids
            ),
            text,
            attachment,
        )

    def _place(self, row: sqlite3.Row, ending: str) -> str:
        kind = FOLDERS[Kind(row["kind"])]
        earlier = row["number"] != row["present"]
        folder = f"{HISTORY}/{kind}" if earlier else kind
        number = f"state {row['number']}" if earlier else ""
        belongs = self.folders.setdefault(folder, _Folder(folder))
        return belongs.next_place(self._title(row), number, ending)

    def _title(self, row: sqlite3.Row) -> str:
        """What people would look for: an arrangement by its tune, a lesson by its day."""
        if row["kind"] == Kind.ARRANGEMENT:
            of = [self.names.get(to, "") for role, to in json.loads(row["links"]) if role == "of"]
            return " ".join([*of[:1], row["name"]])
        if row["kind"] == Kind.LESSON:
            return f"{json.loads(row['about']).get('date', '')} {row['name']}"
        return str(row["name"])

    def _write(self, row: sqlite3.Row, content: bytes) -> FileLine:
        place = self._place(row, _ENDINGS[Form(row["form"])])
        self._made(place).write_bytes(content)
        return FileLine(place, hashlib.sha256(content).hexdigest())

    def _made(self, place: str) -> Path:
        path = self.folder / place
        if path.parent not in self.made:
            path.parent.mkdir(parents=True, exist_ok=True)
            self.made.add(path.parent)
        self.files += 1
        return path

    def _attach(self, row: sqlite3.Row) -> FileLine | None:
        """The attached file, written once however many states have it."""
        sha256 = str(row["attachment"])
        if sha256 not in self.attached:
            self.attached[sha256] = self._attach_anew(row, sha256)
        return self.attached[sha256]

    def _attach_anew(self, row: sqlite3.Row, sha256: str) -> FileLine:
        place = self._place(row, self._ending(row))
        source = self.shelf.attachments.path(sha256)
        try:
            if file_sha256(source) != sha256:
                self.problems.append(f"{row['name']}: its file is damaged ({source}).")
        except OSError as error:
            self.problems.append(
                f"{row['name']}: its file can't be read ({source}: {error.strerror})."
            )
        else:
            shutil.copyfile(source, self._made(place))
        return FileLine(place, sha256)

    def _ending(self, row: sqlite3.Row) -> str:
        """As the file was called when it came, else by its form."""
        called = str(json.loads(row["about"]).get("file", "")).casefold()
        ending = _ENDING.search(called)
        return ending[0] if ending else _ENDINGS[Form(row["form"])]
