"""The melodies of a shelf made ready to be searched, and kept so in a file beside it.

The file `cache/melodies.bin` holds the index of all melodies at some moment, with a stamp for each
tune that is another one when its melody is another one. Later the tunes whose stamps are no longer
those are passed over in it, and what came in since is indexed apart, until that is so much that all
is indexed anew. So a tune that was put on the shelf a moment ago is found, and the file may be
deleted or spoilt at any time: it is made again. Two processes may make it at once; the last stays.

Public: `Melodies`, `melodies_of`, `prepare`, `CACHE`.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO, overload

import numpy as np
import numpy.typing as npt

from reedwright.files import NotWritten, whole_file
from reedwright.shelf.facts.melodies import PLACE
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.tune.likeness.collection import Collection, collection_from_places
from reedwright.tune.likeness.model import Listed

CACHE = Path("cache") / "melodies.bin"
_FORM = b"reedwright melodies 1\n".ljust(64)
_ALIGNED = 64  # bytes: NumPy copies all of an array that does not begin so before it looks into it
_ARRAYS = ("midi", "onset", "length", "bar", "firsts", "codes", "order", "starts")
MOST_APART = 400
"""Tunes that are indexed apart, some tenths of a second's work each time that the shelf changes."""
_AT_ONCE = 500  # tunes read with one question

Items = npt.NDArray[np.int64]


class _Numbers(Sequence[Listed]):
    """Tunes by their number alone; what else is to be told of them, the shelf tells."""

    def __init__(self, items: Items) -> None:
        self._items = items

    def __len__(self) -> int:
        return len(self._items)

    @overload
    def __getitem__(self, index: int) -> Listed: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Listed]: ...
    def __getitem__(self, index: Any) -> Any:
        if isinstance(index, slice):
            return _Numbers(self._items[index])
        return Listed(str(self._items[index]), "", "", "", "", "")


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """Some tunes with their index; `items` are their numbers, `stamps` what they were marked by."""

    collection: Collection
    items: Items
    stamps: Items

    def allowed(self, among: Items | None, live: npt.NDArray[np.bool_]) -> npt.NDArray[np.bool_]:
        """Which of the tunes are on the shelf as they are here, and among those wanted."""
        return live if among is None else live & np.isin(self.items, among)


@dataclass(frozen=True, slots=True, eq=False)
class Melodies:
    """All melodies on the shelf: parts, and which tunes of each are as they are on the shelf."""

    parts: tuple[Part, ...]
    live: tuple[npt.NDArray[np.bool_], ...]


def melodies_of(shelf: Shelf) -> Melodies:
    """The melodies as they are now; the index in the file is used, and made where need be."""
    return _melodies(shelf, MOST_APART)


def prepare(shelf: Shelf) -> None:
    """Make the file now, where anything changed, so that no search need wait for it."""
    _melodies(shelf, 0)


def _melodies(shelf: Shelf, most_apart: int) -> Melodies:
    rows = shelf.db.execute(
        "SELECT item, stamp FROM sought WHERE removed = 0 ORDER BY item"
    ).fetchall()
    now = np.array([tuple(row) for row in rows], dtype=np.int64).reshape(-1, 2)
    items, stamps = now[:, 0], now[:, 1]
    path = shelf.folder / CACHE
    kept = _read(path)
    if kept is not None:
        live = _same(kept, items, stamps)
        apart = items[~np.isin(items, kept.items[live])]
        if len(apart) <= most_apart and np.count_nonzero(~live) <= max(most_apart, len(live) // 4):
            if not len(apart):
                return Melodies((kept,), (live,))
            new = _index(shelf, apart, stamps[np.isin(items, apart)])
            return Melodies((kept, new), (live, np.ones(len(apart), dtype=np.bool_)))
    every = _index(shelf, items, stamps)
    if len(items) > most_apart and not shelf.read_only:
        with suppress(NotWritten, OSError):
            _write(path, every)
    return Melodies((every,), (np.ones(len(items), dtype=np.bool_),))


def _same(kept: Part, items: Items, stamps: Items) -> npt.NDArray[np.bool_]:
    """Which of the tunes kept are on the shelf with the same stamp. Both are in order."""
    if not len(items):
        return np.zeros(len(kept.items), dtype=np.bool_)
    at = np.minimum(np.searchsorted(items, kept.items), len(items) - 1)
    found: npt.NDArray[np.bool_] = (items[at] == kept.items) & (stamps[at] == kept.stamps)
    return found


def _index(shelf: Shelf, items: Items, stamps: Items) -> Part:
    melodies: list[bytes] = []
    for at in range(0, len(items), _AT_ONCE):
        asked = items[at : at + _AT_ONCE].tolist()
        marks = ", ".join("?" * len(asked))
        rows = shelf.db.execute(
            f"SELECT item, melody FROM fact WHERE item IN ({marks}) ORDER BY item", asked
        )
        by_item = {int(row[0]): bytes(row[1]) for row in rows}
        melodies += [by_item.get(item, b"") for item in asked]
    places = np.frombuffer(b"".join(melodies), dtype=PLACE)
    counts = np.array([len(each) // PLACE.itemsize for each in melodies], dtype=np.int64)
    collection = collection_from_places(
        _Numbers(items),
        np.ascontiguousarray(places["midi"]),
        np.ascontiguousarray(places["onset"]),
        np.ascontiguousarray(places["length"]),
        np.ascontiguousarray(places["bar"]),
        np.concatenate(([0], np.cumsum(counts)))[:-1].astype(np.int64),
    )
    return Part(collection, items, stamps)


def _write(path: Path, part: Part) -> None:
    path.parent.mkdir(exist_ok=True)
    with whole_file(path) as temporary, temporary.open("wb") as file:
        file.write(_FORM)
        for array in (part.items, part.stamps, *(getattr(part.collection, n) for n in _ARRAYS)):
            file.write(bytes(-file.tell() % _ALIGNED))
            np.lib.format.write_array(file, np.ascontiguousarray(array), allow_pickle=False)


def _read(path: Path) -> Part | None:
    """What the file holds, left in the file until it is needed; None where it is of no use."""
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            if file.read(len(_FORM)) != _FORM:
                return None
            items, stamps, *arrays = [_mapped(file, path) for _ in range(2 + len(_ARRAYS))]
            if file.tell() != size:
                return None
    except (OSError, ValueError, EOFError):
        return None
    return Part(Collection(_Numbers(items), *arrays), np.array(items), np.array(stamps))


def _mapped(file: BinaryIO, path: Path) -> npt.NDArray[Any]:
    file.seek(-file.tell() % _ALIGNED, os.SEEK_CUR)
    version = np.lib.format.read_magic(file)
    if version != (1, 0):
        raise ValueError(f"{path}: not an array that is known here")
    shape, _, dtype = np.lib.format.read_array_header_1_0(file)
    at = file.tell()
    file.seek(at + dtype.itemsize * int(np.prod(shape)))
    if not np.prod(shape):
        return np.zeros(shape, dtype=dtype)
    return np.memmap(path, dtype, "r", at, shape).view(np.ndarray)
