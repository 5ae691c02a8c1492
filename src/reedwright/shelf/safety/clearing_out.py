"""Files beside the database that nothing speaks of, found and cleared away.

A process that is killed, or a change that was refused, leaves the file that it had put down before
any row named it. A file is cleared out only when no state names it and nobody has touched it for a
day; and the last look is taken while the shelf can't be changed, so that a process about to name
the file finds it gone and puts it down again.

Public: `orphans`, `clear_out`, `GRACE`.
"""

from __future__ import annotations

import time
from contextlib import suppress
from pathlib import Path

from reedwright.shelf.keeping.shelf import Shelf

GRACE = 24 * 3600.0  # seconds; longer than anything is under way


def orphans(shelf: Shelf, grace: float = 0.0) -> dict[Path, int]:
    """Files of attachments that belong to nothing, older than `grace` seconds; their bytes."""
    named = {row[0] for row in shelf.db.execute("SELECT sha256 FROM attachment")}
    found = {}
    folder = shelf.attachments.folder
    for path in sorted(folder.rglob("*")) if folder.is_dir() else ():
        with suppress(OSError):  # another process may have moved it into its place
            if path.is_file() and path.name not in named and _age(path) >= grace:
                found[path] = path.stat().st_size
    return found


def _age(path: Path) -> float:
    return time.time() - path.stat().st_mtime


def clear_out(shelf: Shelf, grace: float = GRACE) -> dict[Path, int]:
    """Remove the orphans that are older than `grace` seconds; returns them and their bytes.

    Raises `ShelfReadOnly`, `ShelfBusy`.
    """
    gone = {}
    for path, size in orphans(shelf, grace).items():
        with shelf.change():  # a lock for each, so that nobody waits
            row = shelf.db.execute(
                "SELECT 1 FROM attachment WHERE sha256 = ?", (path.name,)
            ).fetchone()
            with suppress(OSError):
                if row is None and _age(path) >= grace:
                    path.unlink()
                    gone[path] = size
    return gone
