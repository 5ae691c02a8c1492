"""Files that are written whole or not at all.

A file is written under a temporary name beside its place and moved there when
it is complete, so that a crash, a full disk or Ctrl-C leaves what was there.
"""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from reedwright.errors import ReedwrightError


class NotWritten(ReedwrightError):
    """A file could not be written; what was there before is untouched."""


_WHAT_TO_DO = {
    errno.ENOSPC: "Make room there, or choose another place.",
    errno.EDQUOT: "Make room there, or choose another place.",
    errno.EACCES: "Choose a place that you may write to.",
    errno.EPERM: "Choose a place that you may write to.",
    errno.EROFS: "Choose a place that you may write to.",
    errno.ENOENT: "Make the folder first, or choose another place.",
    errno.ENOTDIR: "Part of that path is a file; choose another place.",
    errno.EEXIST: "A file has that name; choose another place.",
    errno.ENAMETOOLONG: "Choose a shorter name.",
}


def not_written(path: Path, error: OSError) -> NotWritten:
    """The error that says what the system refused at `path`, and what to do."""
    hint = _WHAT_TO_DO.get(error.errno or 0, "Choose another place.")
    return NotWritten(f"{path}: cannot be written ({error.strerror or error}). {hint}")


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A temporary path to write to; it becomes `path` when the block ends well.

    Raises `NotWritten` for whatever the system refuses (no such folder, no
    permission, disk full).
    """
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}-", suffix=".part")
        os.close(handle)
    except OSError as error:
        raise not_written(path, error) from error
    temporary = Path(name)
    try:
        yield temporary
        _give_usual_mode(temporary)
        temporary.replace(path)
    except OSError as error:
        raise not_written(path, error) from error
    finally:
        with suppress(OSError):
            temporary.unlink()


def write_whole(path: Path, content: bytes) -> None:
    """Write bytes to `path`, whole or not at all."""
    with whole_file(path) as temporary:
        temporary.write_bytes(content)


def _give_usual_mode(path: Path) -> None:
    """Temporary files are private; a finished one gets what the user's umask says."""
    mask = os.umask(0)
    os.umask(mask)
    path.chmod(0o666 & ~mask)
