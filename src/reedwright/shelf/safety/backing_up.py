"""A copy of the whole shelf, made while it is in use; and a shelf made of such a copy.

The copy is of one moment: SQLite copies the file page by page as it was when the copying began,
whatever others write meanwhile (sqlite.org/backup.html, from within one reading transaction). Every
attachment that this file names is copied and compared by its SHA-256. A backup is a shelf itself,
without a log beside it, so that it can be read from a medium that can't be written to. It is there
whole, or not at all.

Public: `back_up`, `restore`, `BackUpReport`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from reedwright.files import NotWritten
from reedwright.folders.placing import built_aside
from reedwright.shelf.keeping.attachments import Attachments
from reedwright.shelf.keeping.connection import Connection
from reedwright.shelf.keeping.opening import DATABASE, open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ShelfError, ShelfNotUsable

Progress = Callable[[float, str], None]

PAGES = 2000  # of the file copied at once, 8 MB: often enough to tell how far it is
_BY_FILE = 0.5  # share of the work, for telling


@dataclass(frozen=True, slots=True)
class BackUpReport:
    """What was copied; `problems`: attachments that were lost or damaged before, one sentence
    each. The rest is backed up all the same."""

    items: int
    attachments: int
    bytes: int
    problems: tuple[str, ...] = ()


def back_up(shelf: Shelf, to: Path, progress: Progress | None = None) -> BackUpReport:
    """Copy the shelf to the folder `to`, which must not be there yet, or be empty.

    Others may go on writing to the shelf. Raises `NotWritten` where there is no room, and then
    nothing is left there.
    """
    if to.exists() and (not to.is_dir() or any(to.iterdir())):
        raise NotWritten(f"{to}: there is something in that place already. Choose another name.")
    with open_shelf(shelf.folder, read_only=True) as source:
        return _copied(source, to, progress or (lambda share, doing: None), "backing up")


def restore(backup: Path, folder: Path, progress: Progress | None = None) -> BackUpReport:
    """Make a shelf in `folder` of a backup. A shelf that is there is left alone: `NotWritten`.

    Raises `ShelfNotUsable` where the backup is none, or is damaged.
    """
    if (folder / DATABASE).exists():
        raise NotWritten(
            f"{folder}: there is a shelf in that place already. Move it away first, or choose "
            "another place."
        )
    with open_shelf(backup, read_only=True) as source:
        for row in source.db.execute("PRAGMA integrity_check(1)"):
            if row[0] != "ok":
                raise ShelfNotUsable(
                    f"{backup}: the backup is damaged ({row[0]}). Take an older one."
                )
        return _copied(source, folder, progress or (lambda share, doing: None), "restoring")


def _copied(source: Shelf, to: Path, tell: Progress, doing: str) -> BackUpReport:
    with built_aside(to.absolute().parent, to.absolute().name) as folder:
        items, named = _copy_file(source, folder / DATABASE, lambda done: tell(done, doing))
        target = Attachments(folder / "attachments")
        problems = []
        done, whole = 0, sum(named.values())
        for sha256, size in named.items():
            try:
                target.take(source.attachments.path(sha256), sha256)
            except ShelfError as error:
                problems.append(str(error))
            done += size
            tell(_BY_FILE + (1 - _BY_FILE) * done / (whole or 1), doing)
    tell(1.0, doing)
    return BackUpReport(items, len(named) - len(problems), whole, tuple(problems))


def _copy_file(
    source: Shelf, path: Path, tell: Callable[[float], None]
) -> tuple[int, dict[str, int]]:
    """Copy the database; returns how many items it has, and the attachments that it names, with
    their bytes."""

    def copied(status: int, remaining: int, total: int) -> None:
        tell(_BY_FILE * (total - remaining) / (total or 1))

    target = sqlite3.connect(path, isolation_level=None, factory=Connection)
    target.place = path
    try:
        with source.reading(), target.telling():
            source.db.backup(target, pages=PAGES, progress=copied)
        target.execute("PRAGMA journal_mode = DELETE")
        items = int(target.execute("SELECT count(*) FROM item").fetchone()[0])
        rows = target.execute("SELECT sha256, bytes FROM attachment ORDER BY sha256")
        return items, {str(row[0]): int(row[1]) for row in rows}
    finally:
        target.close()
