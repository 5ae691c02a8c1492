"""A shelf's file brought to the newest form, step by step.

Its form is the number of migrations that it has had (`PRAGMA user_version`). Each migration is a
script in `migrations/`, run in one transaction with its number, so that a file is always in
one form and knows which; a new shelf gets all of them in one. Before an older shelf is touched, a
copy of its file is put beside it.

Public: `bring_up_to_date`, `known_form`, `forms`, `MIGRATIONS`.
"""

from __future__ import annotations

import sqlite3
from itertools import count
from pathlib import Path

from reedwright.files import whole_file
from reedwright.shelf.keeping.connection import Connection
from reedwright.shelf.keeping.troubles import too_old
from reedwright.shelf.model import ShelfNotUsable

MIGRATIONS = Path(__file__).parent / "migrations"
OLDEST_SQLITE = (3, 34, 0)  # the first one whose FTS5 has trigrams (sqlite.org/releaselog)


def forms(folder: Path = MIGRATIONS) -> tuple[Path, ...]:
    """The scripts that lead from one form to the next, in order."""
    return tuple(sorted(folder.glob("*.sql")))


def known_form(db: Connection, newest: int) -> int:
    """The form that the file is in; 0 for a new one. Raises `ShelfNotUsable` for a file of
    another program, and for a form newer than the `newest` that is known here."""
    have = int(db.execute("PRAGMA user_version").fetchone()[0])
    tables = {row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if tables and not {"item", "state"} <= tables:
        raise ShelfNotUsable(
            f"{db.place}: this is a database of another program. Choose another folder with "
            "--shelf."
        )
    if have > newest:
        raise ShelfNotUsable(
            f"{db.place}: this shelf was written by a newer Reedwright (form {have}; this one "
            f"knows {newest}). Install the newer one."
        )
    return have


def bring_up_to_date(db: Connection, path: Path, scripts: tuple[Path, ...]) -> None:
    """Run the scripts that the file has not had. Two processes may do so at once.

    Raises `ShelfNotUsable` where the file is of a newer form, or SQLite lacks what is needed.
    """
    if sqlite3.sqlite_version_info < OLDEST_SQLITE:
        raise too_old(path)
    if known_form(db, len(scripts)) == len(scripts):
        return
    kept = False
    while True:
        db.execute("BEGIN IMMEDIATE")
        try:
            have = known_form(db, len(scripts))  # another process may have done it meanwhile
            if have == len(scripts):
                break
            if have and not kept:
                keep_copy(path, have)
                kept = True
            _run(db, scripts[have:] if not have else scripts[have : have + 1], have)
            db.execute("COMMIT")
        finally:
            if db.in_transaction:
                db.execute("ROLLBACK")


def _run(db: Connection, scripts: tuple[Path, ...], have: int) -> None:
    for number, script in enumerate(scripts, start=have + 1):
        for statement in _statements(script.read_text("utf-8")):
            db.execute(statement)
        db.execute(f"PRAGMA user_version = {number}")


def keep_copy(path: Path, form: int) -> Path:
    """Copy the file as it was last committed, beside it: `shelf-before-form-3.sqlite`.

    Raises `NotWritten` where there is no room; then nothing is brought up to date.
    """
    names = (f"{path.stem}-before-form-{form + 1}{mark}.sqlite" for mark in _marks())
    copy = next(path.with_name(name) for name in names if not path.with_name(name).exists())
    with whole_file(copy) as temporary:
        source = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True)
        target = sqlite3.connect(temporary, factory=Connection)
        target.place = copy
        try:
            with target.telling():
                source.backup(target)
            # The copy stands alone, without a log beside it.
            target.execute("PRAGMA journal_mode = DELETE")
        finally:
            target.close()
            source.close()
    return copy


def _marks() -> list[str]:
    return ["", *(f"-{number}" for _, number in zip(range(998), count(2), strict=False))]


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
