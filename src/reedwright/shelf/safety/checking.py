"""Is everything on the shelf whole? Looked at and told, changing nothing.

The file: SQLite's own integrity and foreign-key checks. The items: their states form a tree, and
the present one is among them. The attachments: each is there and is to the byte what it was, by its
SHA-256. What is worked out from the items: every index of words is sound (FTS5's own check) and has
all that it should have, and tunes' facts are those of their present states.

Public: `check`, `CheckReport`.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from reedwright.shelf.facts.model import RULES
from reedwright.shelf.keeping.attachments import file_sha256
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.keeping.troubles import ShelfBusy
from reedwright.shelf.model import Form, Kind, Role, ShelfError, ShelfNotUsable
from reedwright.shelf.safety.clearing_out import orphans

Progress = Callable[[float, str], None]

MANY = 20  # problems of one sort that are told one by one
_BY_DATABASE, _BY_ITEMS = 0.3, 0.5  # shares of the work done, as it goes with few large files


@dataclass(frozen=True, slots=True)
class CheckReport:
    """What was looked at and what was found.

    `problems`: harm, one sentence each. `remarks`: what is not as it could be, with nothing lost.
    `orphans`: files that no state speaks of, as crashes leave them, and their bytes.
    """

    items: int
    states: int
    attachments: int
    attachment_bytes: int
    problems: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    orphans: int = 0
    orphan_bytes: int = 0

    @property
    def whole(self) -> bool:
        return not self.problems

    def text(self) -> str:
        """For people."""
        looked = (
            f"{_counted(self.items, 'item')} in {_counted(self.states, 'state')}, "
            f"{_counted(self.attachments, 'attachment')} ({self.attachment_bytes:,} bytes)"
        )
        lines = [
            f"Everything is whole: {looked}." if self.whole else f"Harm was found in {looked}:"
        ]
        lines += [f"  {problem}" for problem in self.problems]
        if not self.whole:
            lines.append(
                "Keep the folder as it is, restore your last backup to another folder, and take "
                "from it what is harmed here."
            )
        lines += self.remarks
        return "\n".join(lines)

    def report(self) -> dict[str, object]:
        """JSON-ready; the shape is in docs/formats.md."""
        return {
            "whole": self.whole,
            "items": self.items,
            "states": self.states,
            "attachments": self.attachments,
            "attachment_bytes": self.attachment_bytes,
            "problems": list(self.problems),
            "remarks": list(self.remarks),
            "orphans": self.orphans,
            "orphan_bytes": self.orphan_bytes,
        }


def check(shelf: Shelf, progress: Progress | None = None) -> CheckReport:
    """Look at everything. `progress` is called with the share done (0 to 1) and what is done.

    Others may write meanwhile. Raises `ShelfError` where not even counting is possible.
    """
    tell = progress or (lambda share, doing: None)
    tell(0.0, "checking the file")
    problems = _told(_database(shelf))
    if not problems:
        problems += _told(_words(shelf))
    tell(_BY_DATABASE, "checking the items")
    with shelf.reading():
        counts = shelf.db.execute(
            "SELECT (SELECT count(*) FROM item), (SELECT count(*) FROM state), "
            "(SELECT count(*) FROM attachment), (SELECT coalesce(sum(bytes), 0) FROM attachment)"
        ).fetchone()
        problems += _told(_items(shelf))
        remarks = _told(_facts(shelf))
        named = shelf.db.execute("SELECT sha256, bytes FROM attachment ORDER BY sha256").fetchall()
    problems += _told(_attachments(shelf, [(str(row[0]), int(row[1])) for row in named], tell))
    left = orphans(shelf)
    if left:
        remarks.append(
            f"{_counted(len(left), 'file')} of attachments ({sum(left.values()):,} bytes) belong "
            "to nothing, as a crash leaves them. They do no harm."
        )
    tell(1.0, "checked")
    return CheckReport(
        items=counts[0],
        states=counts[1],
        attachments=counts[2],
        attachment_bytes=counts[3],
        problems=tuple(problems),
        remarks=tuple(remarks),
        orphans=len(left),
        orphan_bytes=sum(left.values()),
    )


def _database(shelf: Shelf) -> Iterator[str]:
    try:
        for row in shelf.db.execute("PRAGMA integrity_check"):
            if row[0] != "ok":
                yield f"the file is damaged: {row[0]}"
        for row in shelf.db.execute("PRAGMA foreign_key_check"):
            yield f"a row of '{row[0]}' speaks of one of '{row[2]}' that is not there"
    except ShelfError as error:
        yield f"the file is damaged: {error.__cause__ or error}"


def _words(shelf: Shelf) -> Iterator[str]:
    """FTS5's own check of each index of words. It needs to be able to write, and writes nothing."""
    rows = shelf.db.execute(
        "SELECT name, sql FROM sqlite_master WHERE type = 'table' AND sql LIKE '%using fts5(%'"
    ).fetchall()
    for name, sql in rows:
        try:
            if not shelf.read_only:
                with shelf.change():
                    shelf.db.execute(f'INSERT INTO "{name}"("{name}") VALUES (\'integrity-check\')')
            content = re.search(r"content\s*=\s*'(\w+)'", sql)
            if content is None:
                continue
            # FTS5 compares with a table, not with a view; so the rows are compared here.
            made, there = (
                shelf.db.execute(f'SELECT count(*) FROM "{table}"').fetchone()[0]
                for table in (content[1], f"{name}_docsize")
            )
            if made != there:
                yield f"the index of words '{name}' is of {there:,} tunes, and {made:,} are there"
        except ShelfBusy:
            raise
        except ShelfError as error:
            yield f"the index of words '{name}' is damaged ({error.__cause__ or error})"


def _items(shelf: Shelf) -> Iterator[str]:
    for row in shelf.db.execute(
        "SELECT item.id, item.name FROM item LEFT JOIN state "
        "ON state.item = item.id AND state.number = item.state WHERE state.item IS NULL"
    ):
        yield f"{row[1]} (item {row[0]}): its present state is not there"
    for row in shelf.db.execute(
        "SELECT child.item, child.number, child.parent FROM state AS child LEFT JOIN state AS made "
        "ON made.item = child.item AND made.number = child.parent "
        "WHERE child.parent != 0 AND made.item IS NULL"
    ):
        yield f"item {row[0]}: state {row[1]} was made from state {row[2]}, which is not there"
    for row in shelf.db.execute(
        "SELECT item.id, item.name, left_at FROM item LEFT JOIN state "
        "ON state.item = item.id AND state.number = left_at "
        "WHERE left_at != 0 AND state.item IS NULL"
    ):
        yield f"{row[1]} (item {row[0]}): the state {row[2]} that redoing leads to is not there"
    for row in shelf.db.execute(
        "SELECT item.id, item.name, state.name FROM item JOIN state "
        "ON state.item = item.id AND state.number = item.state WHERE item.name != state.name"
    ):
        yield f"item {row[0]} is called '{row[1]}', and '{row[2]}' in its present state"
    for row in shelf.db.execute("SELECT id, kind FROM item"):
        if row[1] not in _KINDS:
            yield f"item {row[0]} is of a kind that is not known, '{row[1]}'"
    for row in shelf.db.execute("SELECT item, number, form, at, about, links FROM state"):
        yield from _state(*row)


_KINDS = frozenset(Kind)
_FORMS = frozenset(Form)
_ROLES = frozenset(Role)


def _state(item: int, number: int, form: str, at: str, about: str, links: str) -> Iterator[str]:
    from datetime import datetime

    where = f"item {item}, state {number}"
    if form not in _FORMS:
        yield f"{where} is of a form that is not known, '{form}'"
    try:
        datetime.fromisoformat(at)
        if not isinstance(json.loads(about), dict):
            yield f"{where}: what is told about it can't be read"
        if any(role not in _ROLES for role, _ in json.loads(links)):
            yield f"{where}: what it belongs to can't be read"
    except (ValueError, TypeError):
        yield f"{where}: its time, or what is told about it, can't be read"


def _facts(shelf: Shelf) -> Iterator[str]:
    stale, without = shelf.db.execute(
        "SELECT count(fact.item), count(*) - count(fact.item) FROM item "
        "LEFT JOIN fact ON fact.item = item.id WHERE item.kind = 'tune' AND item.removed = 0 "
        "AND (fact.item IS NULL OR fact.state != item.state OR fact.rules != ?)",
        (RULES,),
    ).fetchone()
    if stale:
        yield (
            f"{_counted(stale, 'tune')} would be found by what they said before: what is searched "
            "by is older than they are."
        )
    if without:
        yield f"{_counted(without, 'tune')} can't be found by notes: there is nothing to search by."


def _attachments(shelf: Shelf, named: list[tuple[str, int]], tell: Progress) -> Iterator[str]:
    whole = sum(size for _, size in named) or 1
    done = 0
    for sha256, size in named:
        path = shelf.attachments.path(sha256)
        try:
            if path.stat().st_size != size or file_sha256(path) != sha256:
                yield f"the file of {_of(shelf, sha256)} is damaged ({path})"
        except OSError as error:
            yield f"the file of {_of(shelf, sha256)} can't be read ({path}: {error.strerror})"
        done += size
        tell(_BY_ITEMS + (1 - _BY_ITEMS) * done / whole, "checking attachments")


def _of(shelf: Shelf, sha256: str) -> str:
    """Whose attachment it is, for telling."""
    row = shelf.db.execute(
        "SELECT item, number, name FROM state WHERE attachment = ? LIMIT 1", (sha256,)
    ).fetchone()
    return "nothing any more" if row is None else f"{row[2]} (item {row[0]}, state {row[1]})"


def _told(problems: Iterator[str]) -> list[str]:
    """The first of them one by one, and how many more there are. Where the file is damaged so that
    the looking comes to an end, that is one of them."""
    found = []
    try:
        for problem in problems:
            found.append(problem)
    except ShelfNotUsable as error:
        found.append(f"not all could be looked at: {error.__cause__ or error}")
    if len(found) <= MANY:
        return found
    return [*found[:MANY], f"and {len(found) - MANY:,} more of this sort"]


def _counted(number: int, what: str) -> str:
    return f"{number:,} {what}{'' if number == 1 else 's'}"
