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
    path = folder / LOCK_FILE
    until = time.monotonic() + LONGEST_WAIT
    while True:
        try:
            os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
            break
        except FileExistsError:
            with suppress(OSError):
                if time.time() - path.stat().st_mtime > STALE:
                    path.unlink()
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
            path.unlink()
