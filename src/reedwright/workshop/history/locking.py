"""One writer at a time in a folder.

The lock is the system's (flock) on the folder itself: it ends with the process that holds it, even
one that is killed. Where there is none (Windows, some network drives) a lock file stands in; one
that was left by a killed process counts no more after a while.

Public: `alone`.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib.util import find_spec
from pathlib import Path
from uuid import uuid4

from reedwright.files import not_written
from reedwright.workshop.history.model import HistoryError

LOCK_FILE = ".lock"
STALE = 30.0  # seconds; adding an entry takes a few hundredths
LONGEST_WAIT = 60.0  # seconds
BETWEEN_TRIES = 0.02


@contextmanager
def alone(folder: Path) -> Iterator[None]:
    """Hold the folder. Raises `HistoryError` where another one holds it for a minute."""
    if find_spec("fcntl") is None:
        with _lock_file(folder):
            yield
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise not_written(folder, error) from error
    try:
        if _flocked(handle, folder):
            yield
        else:
            with _lock_file(folder):
                yield
    finally:
        os.close(handle)


def _flocked(handle: int, folder: Path) -> bool:
    """Whether the system locks the folder for us; False where it cannot lock at all."""
    import fcntl

    until = time.monotonic() + LONGEST_WAIT
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return True
        except BlockingIOError:
            if time.monotonic() > until:
                raise HistoryError(
                    f"{folder}: another program is writing there and does not end; end it, and "
                    "try again"
                ) from None
            time.sleep(BETWEEN_TRIES)
        except OSError:
            return False


@contextmanager
def _lock_file(folder: Path) -> Iterator[None]:
    """A file that only one can make. It holds the maker's mark, so that nobody takes away the
    lock of another."""
    path = folder / LOCK_FILE
    mark = uuid4().hex
    until = time.monotonic() + LONGEST_WAIT
    while True:
        try:
            with path.open("x") as file:
                file.write(mark)
            break
        except FileExistsError:
            if _left_behind(path):
                _take_away(path, mark)
                continue
            if time.monotonic() > until:
                raise HistoryError(
                    f"{path}: another program holds this folder; delete that file if none does"
                ) from None
            time.sleep(BETWEEN_TRIES)
        except OSError as error:
            raise not_written(path, error) from error
    try:
        yield
    finally:
        with suppress(OSError):
            if path.read_text() == mark:
                path.unlink()


def _left_behind(path: Path) -> bool:
    with suppress(OSError):
        return time.time() - path.stat().st_mtime > STALE
    return False


def _take_away(path: Path, mark: str) -> None:
    """Remove a lock that was left behind. Renaming is done by one alone; should it have been a
    fresh one after all, made since it was looked at, it is put back."""
    aside = path.with_name(f"{path.name}-{mark}")
    with suppress(OSError):
        path.rename(aside)
        if _left_behind(aside):
            aside.unlink()
        else:
            aside.rename(path)
