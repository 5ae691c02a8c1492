"""Files beside the database, each named for the SHA-256 of what is in it.

A file is on the disk, whole, before any row speaks of it, so that a crash leaves at worst a file
that nobody speaks of. The same content is kept once.

Public: `Attachments`.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from reedwright.files import not_written, write_whole
from reedwright.shelf.model import ShelfError


class Attachments:
    """The folder of attachments. It need not exist before the first one is added."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, sha256: str) -> Path:
        """Where the content of that hash lies, or would lie."""
        return self.folder / sha256[:2] / sha256

    def add(self, content: bytes) -> str:
        """Keep the bytes; returns their SHA-256 in hex. Raises `NotWritten`."""
        sha256 = hashlib.sha256(content).hexdigest()
        path = self.path(sha256)
        if not path.exists():
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise not_written(path, error) from error
            write_whole(path, content)
        return sha256

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
