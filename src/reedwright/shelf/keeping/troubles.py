"""What SQLite refuses, told in words that say what to do. This is the one place where its errors
become the shelf's.

Public: `told`, `ShelfBusy`, `ShelfReadOnly`, `ShelfFull`.
"""

from __future__ import annotations

import sqlite3

from reedwright.files import NotWritten
from reedwright.shelf.model import ShelfError, ShelfNotUsable


class ShelfBusy(ShelfError):
    """Another program was writing to the shelf for longer than was waited; nothing is changed."""


class ShelfReadOnly(ShelfError):
    """The shelf was opened for reading alone; nothing is changed."""


class ShelfFull(ShelfError, NotWritten):
    """There is no room for what was to be kept; the shelf is as it was before."""


ON_THIS_DISK = (
    "Put the shelf on a disk of this computer (--shelf DIR or the variable REEDWRIGHT_SHELF), and "
    "keep backups of it where you like."
)

# Primary result codes, sqlite.org/rescode.html; extended ones have them in their lowest byte.
_PRIMARY = 0xFF


def told(error: sqlite3.Error, place: object) -> ShelfError:
    """The shelf's error for SQLite's. `place`: what the shelf's file is called."""
    code = getattr(error, "sqlite_errorcode", None)  # None where Python's module refused
    extended = code or 0
    primary = extended & _PRIMARY
    if extended in (
        sqlite3.SQLITE_IOERR_SHMMAP,
        sqlite3.SQLITE_IOERR_SHMOPEN,
        sqlite3.SQLITE_IOERR_SHMLOCK,
        sqlite3.SQLITE_IOERR_LOCK,
    ) or primary in (sqlite3.SQLITE_PROTOCOL, sqlite3.SQLITE_NOLFS):
        return no_log_here(place)
    if primary in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return ShelfBusy(
            f"{place}: another program is writing to the shelf. Nothing was changed; wait until it "
            "has finished, and do it again."
        )
    if primary == sqlite3.SQLITE_READONLY:
        return read_only(place)
    if primary == sqlite3.SQLITE_FULL:
        return ShelfFull(
            f"{place}: there is no room left on the disk. Nothing of this was kept, and the "
            "shelf is as it was. Make room, and do it again."
        )
    if primary == sqlite3.SQLITE_NOTADB:
        return ShelfNotUsable(
            f"{place}: this file is no shelf. Choose another folder with --shelf, or move the file "
            "away; where it was a shelf once, restore a backup."
        )
    if primary == sqlite3.SQLITE_CORRUPT:
        return ShelfNotUsable(
            f"{place}: the shelf is damaged ({error}). Keep the file, restore your last backup "
            "(`reedwright shelf restore`) to another folder, and look at both."
        )
    if primary in (sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH):
        return ShelfNotUsable(
            f"{place}: the shelf can't be opened ({error}). Look whether the file and its folder "
            "are yours to read, or choose another folder with --shelf."
        )
    if primary == sqlite3.SQLITE_IOERR:
        return ShelfNotUsable(
            f"{place}: the disk could not be read or written ({error}). What was kept before is "
            "as it was. Check the disk, then run `reedwright shelf check`."
        )
    if "no such module" in str(error):
        return too_old(place)
    return ShelfError(f"{place}: the shelf could not do this ({error}). Nothing was changed.")


def no_log_here(place: object) -> ShelfNotUsable:
    """The file system gives no shared memory or locks, which the write-ahead log needs."""
    return ShelfNotUsable(
        f"{place}: this place can't hold a shelf that several programs may use, as a network "
        f"folder can't. {ON_THIS_DISK}"
    )


def read_only(place: object) -> ShelfReadOnly:
    return ShelfReadOnly(
        f"{place}: the shelf can only be read here; nothing was changed. To change it, make a copy "
        "with `reedwright shelf restore` where you may write."
    )


def too_old(place: object) -> ShelfNotUsable:
    return ShelfNotUsable(
        f"{place}: the shelf needs SQLite 3.34 or newer with its text search (FTS5); this Python "
        f"has {sqlite3.sqlite_version}. Install a Python from python.org or your system's newer "
        "one."
    )
