"""Files that are written whole or not at all.

A file is written under a temporary name beside its place and moved there when
it is complete, so that a crash, a full disk or Ctrl-C leaves what was there.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from reedwright.errors import ReedwrightError


class NotWritten(ReedwrightError):
    """A file could not be written; what was there before is untouched."""


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
        raise NotWritten(f"{path}: cannot be written ({error.strerror}).") from error
    temporary = Path(name)
    try:
        yield temporary
        _give_usual_mode(temporary)
        temporary.replace(path)
    except OSError as error:
        raise NotWritten(f"{path}: cannot be written ({error.strerror}).") from error
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
