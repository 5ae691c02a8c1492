"""Files beside the database, each named for the SHA-256 of what is in it.

A file is on the disk, whole, before any row speaks of it, so that a crash leaves at worst a file
that nobody speaks of. It is handed to the disk (fsync), and so is the folder that names it, so that
this holds for a power cut, too. The same content is kept once. Files are read by pieces, however
long they are.

Public: `Attachments`.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from reedwright.files import not_written, whole_file
from reedwright.shelf.model import ShelfError

PIECE = 2**20  # bytes read at once


class Attachments:
    """The folder of attachments. It need not exist before the first one is added."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Where the content of that hash lies, or would lie."""
        return self.folder / sha256[:2] / sha256

    def add(self, content: bytes | Path) -> str:
        """Keep bytes, or what is in a file; returns the SHA-256 in hex.

        A file that was harmed is made whole again by this. Raises `NotWritten`, and `ShelfError`
        where the file to be kept cannot be read.
        """
        return self.add_sized(content)[0]

    def add_sized(self, content: bytes | Path) -> tuple[str, int]:
        """As `add`; returns the number of bytes as well."""
        sha256, size = _hashed(content)
        path = self.path(sha256)
        if self._touched(path, size) and file_sha256(path) == sha256:
            return sha256, size
        self._write(content, sha256)
        return sha256, size

    def take(self, path: Path, sha256: str) -> None:
        """Keep what is in a file, which is known by its hash: another shelf's attachment, say.

        Raises `ShelfError` where it cannot be read or is not what the hash says, `NotWritten`.
        """
        self._write(path, sha256)

    def _write(self, content: bytes | Path, sha256: str) -> None:
        path = self.path(sha256)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise not_written(path, error) from error
        written = hashlib.sha256()
        with whole_file(path) as temporary, temporary.open("wb") as target:
            for piece in _pieces(content):
                target.write(piece)
                written.update(piece)
            target.flush()
            os.fsync(target.fileno())
            if written.hexdigest() != sha256:
                raise ShelfError(
                    f"{path if isinstance(content, bytes) else content}: damaged, or changed while "
                    "it was read."
                )
        _settle(path.parent)
        _settle(self.folder)

    @staticmethod
    def _touched(path: Path, size: int) -> bool:
        """Whether the file is there. Its time is now, so that nobody clears it out just now."""
        try:
            os.utime(path)
            return path.stat().st_size == size
        except OSError:
            return False

    def read(self, sha256: str) -> bytes:
        """The bytes. Raises `ShelfError` where they are gone or are no longer what they were."""
        path = self.path(sha256)
        try:
            content = path.read_bytes()
        except OSError as error:
            raise ShelfError(
                f"{path}: a file of the shelf can't be read ({error.strerror or error}). "
                "Bring it back from a backup."
            ) from None
        if hashlib.sha256(content).hexdigest() != sha256:
            raise ShelfError(
                f"{path}: a file of the shelf is damaged. Bring it back from a backup."
            )
        return content


def file_sha256(path: Path) -> str:
    """The SHA-256 of a file in hex, read by pieces. Raises `OSError`."""
    with path.open("rb") as source:
        return hashlib.file_digest(source, "sha256").hexdigest()


def _hashed(content: bytes | Path) -> tuple[str, int]:
    found = hashlib.sha256()
    size = 0
    for piece in _pieces(content):
        found.update(piece)
        size += len(piece)
    return found.hexdigest(), size


def _pieces(content: bytes | Path) -> Iterator[bytes]:
    if isinstance(content, bytes):
        yield content
        return
    try:
        source = content.open("rb")
    except OSError as error:
        raise _unreadable(content, error) from None
    with source:
        while True:
            try:
                piece = source.read(PIECE)
            except OSError as error:
                raise _unreadable(content, error) from None
            if not piece:
                return
            yield piece


def _unreadable(path: Path, error: OSError) -> ShelfError:
    return ShelfError(f"{path}: cannot be read ({error.strerror or error}).")


def _settle(folder: Path) -> None:
    """Hand the folder's names to the disk, where the system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
