"""What an import has to tell of a tune or a file.

Public: `Told`, `label_of`, `shown_path`.
"""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Told:
    """One thing to tell, with its place: file, line and column (from 1; 0 where not of a line).

    `message` is one sentence or several lines, as a terminal shows them, without the place.
    """

    file: str
    message: str
    line: int = 0
    column: int = 0
    number: str = ""
    title: str = ""

    @property
    def where(self) -> str:
        """`book.abc, line 12, column 3: 17. The Salt Quay`; the file as seen from here."""
        text = shown_path(self.file)
        if self.line:
            text += f", line {self.line}"
            if self.column:
                text += f", column {self.column}"
        named = " ".join(part for part in (self.number and f"{self.number}.", self.title) if part)
        return f"{text}: {named}" if named else text

    def __str__(self) -> str:
        return "\n    ".join([self.where, *self.message.splitlines()])


def shown_path(path: str) -> str:
    """A path without the folder that we are in."""
    return path.removeprefix(f"{Path.cwd()}{os.sep}")


def label_of(path: Path) -> str:
    """A path as text; what of a name is no letter in any encoding is a replacement character."""
    return os.fsencode(path).decode("utf-8", "replace")
