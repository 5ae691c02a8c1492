"""Where the shelf is, and how it is opened.

A shelf is a folder with `shelf.sqlite` and `attachments/` in it: the folder `shelf` of the user's
data folder, or what REEDWRIGHT_SHELF says, or what the caller says. The database has a
write-ahead log, so that readers and one writer work at the same time, and a process that is killed
leaves what was committed and nothing else (sqlite.org, "Write-Ahead Logging", "Atomic Commit").

An open shelf serves one thread. Others open it for themselves: that takes about a millisecond, and
SQLite keeps them apart as it does processes.

Public: `shelf_folder`, `open_shelf`, `VARIABLE`, `DATABASE`.
"""

from __future__ import annotations

import os
import sqlite3
from pathlib import Path

from reedwright.files import not_written
from reedwright.shelf.keeping.connection import Connection
from reedwright.shelf.keeping.migrating import MIGRATIONS, bring_up_to_date, forms, known_form
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.keeping.troubles import no_log_here, told
from reedwright.shelf.model import ShelfError, ShelfNotUsable

VARIABLE = "REEDWRIGHT_SHELF"
DATABASE = "shelf.sqlite"
BUSY = 10.0  # seconds to wait for another process that is writing


def shelf_folder() -> Path:
    """Where the shelf is where the caller does not say; it need not exist."""
    import platformdirs

    named = os.environ.get(VARIABLE)
    return Path(named) if named else Path(platformdirs.user_data_dir("reedwright")) / "shelf"


def open_shelf(
    folder: Path | None = None,
    read_only: bool = False,
    busy: float = BUSY,
    migrations: Path = MIGRATIONS,
    make: bool = True,
) -> Shelf:
    """The shelf, made where there is none yet, brought to the newest form.

    `make`: False where a shelf is meant that is there already.
    `read_only`: as it is, for reading; any change raises `ShelfReadOnly`. A shelf in a place
    that cannot be written to is opened so of itself; `Shelf.read_only` tells. `busy`: seconds
    to wait for others that write. Raises `NotWritten` where it cannot be made, `ShelfNotUsable`
    where it cannot be opened, `ShelfBusy`.
    """
    place = folder or shelf_folder()
    path = place / DATABASE
    scripts = forms(migrations)
    if read_only or _only_readable(path):
        return Shelf(_for_reading(path, busy, len(scripts)), place, read_only=True)
    if not make and not path.exists():
        raise ShelfNotUsable(
            f"{place}: there is no shelf here. `reedwright shelf import` makes one. Or is "
            "another folder meant?"
        )
    try:
        place.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise not_written(place, error) from error
    db = _connected(path, "rwc", busy)
    try:
        _log_ahead(db, path)
        db.execute("PRAGMA synchronous = FULL")
        db.execute("PRAGMA foreign_keys = ON")
        bring_up_to_date(db, path, scripts)
    except BaseException:
        db.close()
        raise
    return Shelf(db, place)


def _only_readable(path: Path) -> bool:
    """Whether a shelf is there that can be read and not written to."""
    try:
        if not path.is_file():
            return False
    except OSError:
        return False
    return not (os.access(path, os.W_OK) and os.access(path.parent, os.W_OK))


def _uri(path: Path, mode: str) -> str:
    return f"{path.absolute().as_uri()}?mode={mode}"


def _connected(path: Path, mode: str, busy: float) -> Connection:
    try:
        db = sqlite3.connect(
            _uri(path, mode), timeout=busy, isolation_level=None, uri=True, factory=Connection
        )
    except sqlite3.Error as error:
        raise told(error, path) from error
    db.place = path
    db.row_factory = sqlite3.Row
    return db


def _log_ahead(db: Connection, path: Path) -> None:
    """Readers and a writer at once: the write-ahead log, which stays with the file."""
    if str(db.execute("PRAGMA journal_mode").fetchone()[0]) == "wal":
        return
    if str(db.execute("PRAGMA journal_mode = WAL").fetchone()[0]) != "wal":
        raise no_log_here(path)


def _for_reading(path: Path, busy: float, newest: int) -> Connection:
    if not path.is_file():
        raise ShelfNotUsable(f"{path.parent}: there is no shelf here.")
    db = _readable(path, busy)
    try:
        have = known_form(db, newest)
        if have < newest:
            raise ShelfNotUsable(
                f"{path}: this shelf was written by an older Reedwright (form {have}; this one "
                f"reads {newest}), and can't be brought up to date where it can only be read. "
                "Copy its folder to where you may write, and open it there."
            )
        db.execute("PRAGMA query_only = ON")
    except BaseException:
        db.close()
        raise
    return db


def _readable(path: Path, busy: float) -> Connection:
    """A connection for reading alone.

    Where SQLite may not make the files that lie beside a log, the file is read as one that nobody
    writes to: so it is on a medium that cannot be written to.
    """
    db = _connected(path, "ro", busy)
    try:
        db.execute("SELECT count(*) FROM sqlite_master").fetchone()
    except ShelfError:
        db.close()
        if os.access(path.parent, os.W_OK):
            raise
        log = path.with_name(path.name + "-wal")
        if log.exists() and log.stat().st_size:
            raise ShelfNotUsable(
                f"{path}: the shelf was copied here while a program was writing to it, and what it "
                "wrote last can't be read where nothing can be written. Copy the folder to where "
                "you may write, and open it there."
            ) from None
        db = _connected(path, "ro&immutable=1", busy)
    return db
