"""What was engraved, kept for the next time: one small file for each key, in a folder that may be
deleted at any time.

Two processes may use it at once: files are moved into place whole. One that is damaged counts as
not there. Where the folder cannot be written nothing is kept, and the book is made all the same.

Public: `Stock`, `stock_folder`, `VARIABLE`.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from reedwright.files import NotWritten, write_whole

VARIABLE = "REEDWRIGHT_STOCK"
ENDING = ".entry"
LARGEST = 400 * 2**20
"""Bytes that are kept at most: some ten thousand tunes (an entry takes 20 to 40 kB)."""
KEPT_SHARE = 0.8  # of `LARGEST`, once it was exceeded, so that not every run has to tidy


def stock_folder() -> Path:
    """`book` in the user's cache folder, or the folder that REEDWRIGHT_STOCK names."""
    import platformdirs

    named = os.environ.get(VARIABLE)
    return Path(named) if named else Path(platformdirs.user_cache_dir("reedwright")) / "book"


@dataclass(frozen=True, slots=True)
class Stock:
    """Bytes by key (letters and digits). `largest`: bytes of all that is kept."""

    folder: Path
    largest: int = LARGEST

    def get(self, key: str) -> bytes | None:
        """What was kept, or None. It counts as used today."""
        path = self._path(key)
        try:
            content = path.read_bytes()
        except OSError:
            return None
        with suppress(OSError):
            os.utime(path)
        return content

    def put(self, key: str, content: bytes) -> bool:
        """Keep it; False where that cannot be."""
        path = self._path(key)
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(path, content)
        except (OSError, NotWritten):
            return False
        return True

    def drop(self, key: str) -> None:
        """Forget what proved to be damaged."""
        with suppress(OSError):
            self._path(key).unlink()

    def tidy(self, in_use: Iterable[str] = ()) -> None:
        """Where more is kept than `largest`, what was not used for longest goes.

        What the present book uses stays, however large it is.
        """
        used = {self._path(key) for key in in_use}
        found: list[tuple[float, int, Path]] = []
        with suppress(OSError):
            for path in self.folder.glob(f"*/*{ENDING}"):
                with suppress(OSError):  # another process may have tidied it away
                    about = path.stat()
                    found.append((about.st_mtime, about.st_size, path))
        total = sum(size for _, size, _ in found)
        if total <= self.largest:
            return
        for _, size, path in sorted(found):
            if total <= KEPT_SHARE * self.largest:
                return
            if path not in used:
                with suppress(OSError):
                    path.unlink()
                    total -= size

    def _path(self, key: str) -> Path:
        return self.folder / key[:2] / f"{key}{ENDING}"
