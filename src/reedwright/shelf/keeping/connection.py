"""SQLite's connection, whose every refusal comes out as one of the shelf's errors.

The rooms of the shelf put their questions to it as to any connection of Python's `sqlite3`, and
need not know of SQLite's errors. One connection serves the thread that opened it.

Public: `Connection`.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from reedwright.shelf.keeping.troubles import told
from reedwright.shelf.model import ShelfError


class Connection(sqlite3.Connection):
    """A connection to a shelf's file. `place` is what the errors call it."""

    place: object = "the shelf"

    def cursor(self, factory: Any = None) -> Any:
        try:
            return super().cursor(factory or _Cursor)
        except sqlite3.Error as error:
            raise told(error, self.place) from error

    def execute(self, *args: Any) -> Any:
        return self.cursor().execute(*args)

    def executemany(self, *args: Any) -> Any:
        return self.cursor().executemany(*args)

    def executescript(self, *args: Any) -> Any:
        return self.cursor().executescript(*args)

    @contextmanager
    def telling(self) -> Iterator[None]:
        """What SQLite refuses inside is raised as the shelf's error."""
        try:
            yield
        except sqlite3.Error as error:
            raise told(error, self.place) from error


class _Cursor(sqlite3.Cursor):
    def execute(self, *args: Any) -> Any:
        return self._tell(super().execute, *args)

    def executemany(self, *args: Any) -> Any:
        return self._tell(super().executemany, *args)

    def executescript(self, *args: Any) -> Any:
        return self._tell(super().executescript, *args)

    def fetchone(self) -> Any:
        return self._tell(super().fetchone)

    def fetchmany(self, *args: Any) -> Any:
        return self._tell(super().fetchmany, *args)

    def fetchall(self) -> Any:
        return self._tell(super().fetchall)

    def __next__(self) -> Any:
        try:
            return super().__next__()
        except sqlite3.Error as error:
            raise told(error, self._place) from error

    def _tell(self, do: Callable[..., Any], *args: Any) -> Any:
        try:
            return do(*args)
        except sqlite3.Error as error:
            raise told(error, self._place) from error
        except UnicodeEncodeError as error:
            raise ShelfError(
                f"{self._place}: half a letter (a lone surrogate, {error.object[error.start]!r}) "
                "stands in the text, which no file can hold. Take it out."
            ) from None
        except OverflowError:
            raise ShelfError(
                f"{self._place}: a number is larger than the shelf can hold."
            ) from None

    @property
    def _place(self) -> object:
        return getattr(self.connection, "place", "the shelf")
