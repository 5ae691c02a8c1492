"""What a search has done so far, kept in a file, so that it can be stopped and gone on with.

The file is written whole (see `files`) and bears the marks of all that bears on the answer; the
state of another search is refused, and so is a damaged one. It is numpy's .npz: a zip
archive of arrays, whose check sums tell damage.

Public: `Checkpoint`, `NotThisSearch`, `DamagedCheckpoint`.
"""

from __future__ import annotations

import struct
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reedwright.errors import ReedwrightError
from reedwright.files import not_written, whole_file
from reedwright.workshop.search.rows import Table

_MARK = "reedwright tuning search 1"
_FINGERPRINT = "fingerprint_"
_WHAT_TO_DO = "Name another file, or delete this one to start anew."

_MEANINGS = {
    "version": "an answer of another version of Reedwright",
    "tunes": "other tunes (or tunes changed since)",
    "player": "another player (or a profile changed since)",
    "wishes": "another base tuning, other keys, octaves or valves",
    "layouts": "other layouts (another number of reeds, of semitones, or other frozen reeds)",
}

# What the readers of zip archives and of arrays say of damage in their several parts.
_NOT_READ = (
    OSError,
    ValueError,
    KeyError,
    EOFError,
    IndexError,
    MemoryError,
    OverflowError,
    NotImplementedError,
    RuntimeError,
    SyntaxError,
    TypeError,
    struct.error,
    zipfile.BadZipFile,
)


class NotThisSearch(ReedwrightError):
    """A saved state of other inputs."""


class DamagedCheckpoint(ReedwrightError):
    """A saved state that cannot be read."""


class Checkpoint:
    """A file with the state of one search. `fingerprints` of the inputs, by what they are of."""

    def __init__(self, path: Path, fingerprints: Mapping[str, str]) -> None:
        self.path = path
        self._fingerprints = dict(fingerprints)

    def load(self, table: Table) -> NDArray[np.bool_]:
        """Put what was done into the table; shape (tunes,): which tunes were.

        Nothing where there is no file yet. Raises `NotThisSearch`, `DamagedCheckpoint`.
        """
        done = np.zeros(len(table.played), np.bool_)
        try:
            values = self._read()
        except FileNotFoundError:
            return done
        except _NOT_READ as error:
            raise DamagedCheckpoint(
                f"{self.path}: this is no saved state of a search, or it is damaged. {_WHAT_TO_DO}"
            ) from error
        self._check(values)
        try:
            done[:] = values["done"]
            rows = np.nonzero(done)[0]
            table.missing[rows] = values["missing"]
            table.units[rows] = values["units"]
            plain = np.unpackbits(values["plain"], axis=1, count=table.plain.shape[1])
            table.plain[rows] = plain.astype(np.bool_)
        except (KeyError, ValueError, TypeError) as error:
            raise DamagedCheckpoint(
                f"{self.path}: the saved state is incomplete. {_WHAT_TO_DO}"
            ) from error
        return done

    def save(self, table: Table, done: NDArray[np.bool_]) -> None:
        """Write the rows that are done. Raises `NotWritten`."""
        rows = np.nonzero(done)[0]
        values: dict[str, NDArray[Any]] = {
            "mark": np.array(_MARK),
            "done": done,
            "missing": _compact(table.missing[rows]),
            "units": _compact(table.units[rows]),
            "plain": np.packbits(table.plain[rows], axis=1),
            **{_FINGERPRINT + name: np.array(text) for name, text in self._fingerprints.items()},
        }
        with whole_file(self.path) as temporary:
            try:
                with temporary.open("wb") as file:
                    np.savez(file, allow_pickle=False, **values)
            except OSError as error:
                raise not_written(self.path, error) from error

    def _read(self) -> dict[str, NDArray[Any]]:
        with self.path.open("rb") as opened:
            if not zipfile.is_zipfile(opened):
                raise zipfile.BadZipFile
            opened.seek(0)
            with np.load(opened, allow_pickle=False) as file:
                values = {name: file[name] for name in file.files}
        if str(values["mark"]) != _MARK:
            raise ValueError("made for another purpose")
        return values

    def _check(self, values: Mapping[str, NDArray[Any]]) -> None:
        """Raise `NotThisSearch` with all that differs."""
        differ = [
            _MEANINGS.get(name, name)
            for name, text in self._fingerprints.items()
            if str(values.get(_FINGERPRINT + name, "")) != text
        ]
        if differ:
            raise NotThisSearch(
                f"{self.path} keeps the state of another search: {'; '.join(differ)}. {_WHAT_TO_DO}"
            )


def _compact(array: NDArray[Any]) -> NDArray[Any]:
    """The same numbers in the smallest whole type that holds them."""
    return array.astype(np.min_scalar_type(array.max(initial=0)))
