"""Where the shelf is, and how its file is opened and brought up to date.

A shelf is a folder with `shelf.sqlite` and `attachments/` in it: the folder `shelf` of the user's
data folder, or what REEDWRIGHT_SHELF says, or what the caller says. The database has a
write-ahead log, so that readers and one writer work at the same time, and a process that is killed
leaves what was committed and nothing else (sqlite.org, "Write-Ahead Logging", "Atomic Commit").

Public: `shelf_folder`, `open_shelf`, `VARIABLE`, `DATABASE`.
"""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from reedwright.files import not_written
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ShelfNotUsable

VARIABLE = "REEDWRIGHT_SHELF"
DATABASE = "shelf.sqlite"
MIGRATIONS = Path(__file__).parent / "migrations"
BUSY = 10.0  # seconds to wait for another process that is writing


def shelf_folder() -> Path:
    """Where the shelf is where the caller does not say; it need not exist."""
    import platformdirs

    named = os.environ.get(VARIABLE)
    return Path(named) if named else Path(platformdirs.user_data_dir("reedwright")) / "shelf"


def open_shelf(folder: Path | None = None) -> Shelf:
    """The shelf, made where there is none yet, brought to the newest form.

    Raises `NotWritten` where it cannot be made, `ShelfNotUsable` where it cannot be opened.
    """
    place = folder or shelf_folder()
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise not_written(place, error) from error
    path = place / DATABASE
    try:
        db = sqlite3.connect(path, timeout=BUSY, isolation_level=None)
        db.row_factory = sqlite3.Row
        db.execute("PRAGMA journal_mode = WAL")
        db.execute("PRAGMA synchronous = FULL")
        db.execute("PRAGMA foreign_keys = ON")
        _bring_up_to_date(db, path)
    except sqlite3.Error as error:
        raise ShelfNotUsable(f"{path}: the shelf can't be opened ({error}).") from error
    return Shelf(db, place)


def _bring_up_to_date(db: sqlite3.Connection, path: Path) -> None:
    """Run the migrations that the file has not had; each is one transaction with its number."""
    files = sorted(MIGRATIONS.glob("*.sql"))
    have = int(db.execute("PRAGMA user_version").fetchone()[0])
    if have > len(files):
        raise ShelfNotUsable(
            f"{path}: this shelf was written by a newer Reedwright (form {have}; this one knows "
            f"{len(files)}). Install the newer one."
        )
    if have == len(files):
        return
    db.execute("BEGIN IMMEDIATE")
    try:
        have = int(db.execute("PRAGMA user_version").fetchone()[0])  # another may have done it
        for number, file in enumerate(files[have:], start=have + 1):
            for statement in _statements(file.read_text("utf-8")):
                db.execute(statement)
            db.execute(f"PRAGMA user_version = {number}")
        db.execute("COMMIT")
    except BaseException:
        db.execute("ROLLBACK")
        raise


def _statements(script: str) -> list[str]:
    """The statements of a script, so that they run inside one transaction."""
    found: list[str] = []
    so_far = ""
    for line in script.splitlines(keepends=True):
        so_far += line
        if sqlite3.complete_statement(so_far):
            found.append(so_far)
            so_far = ""
    return found
