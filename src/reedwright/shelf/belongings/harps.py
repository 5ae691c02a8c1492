"""The harps that somebody owns, with their bench histories.

A harp is kept as the file that the bench writes for it (docs/harp-history.md): its name, what
harp it is, and whatever was measured, done and noted. The bench goes on to write its own files;
`from_bench` takes their new states in, and `lay_out_for_bench` writes a harp's file again where
the bench's folder was lost.

Public: `keep_harp`, `lay_out_for_bench`, `harps_on`, `history_on`.
"""

from __future__ import annotations

from pathlib import Path

from reedwright.files import write_whole
from reedwright.folders.names import unused_file_name
from reedwright.harp.making import parse_harp
from reedwright.harp.model import Harp
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, ShelfError
from reedwright.workshop.history.keeping import bench_folder, histories
from reedwright.workshop.history.model import History
from reedwright.workshop.history.reading import read_history
from reedwright.workshop.history.writing import head_text


def keep_harp(shelf: Shelf, name: str, harp: str) -> Item:
    """Keep a harp: its owner's name for it, and what it is, such as `G:richter:half`.

    Raises the errors of `parse_harp`, and `ShelfError` where a harp of that name is kept.
    """
    parse_harp(harp)
    called = " ".join(name.split())
    if not called:
        raise ShelfError("A harp needs a name, such as 'red G'.")
    with shelf.change():
        if any(item.name == called for item in shelf.items(Kind.HARP)):
            raise ShelfError(f"A harp called '{called}' is on the shelf already.")
        return shelf.add(Kind.HARP, called, Form.TOML, head_text(called, harp), said="added")


def lay_out_for_bench(shelf: Shelf, folder: Path | None = None) -> tuple[Path, ...]:
    """Write the files of harps that the bench has none of; returns them. Raises `NotWritten`."""
    place = folder or bench_folder()
    there = {history.name for history in histories(place)}
    used = {path.stem for path in place.glob("*.toml")}
    written = []
    for item in shelf.items(Kind.HARP):
        if item.name in there:
            continue
        name = unused_file_name(item.name, "", used)
        used.add(name)
        place.mkdir(parents=True, exist_ok=True)
        write_whole(place / f"{name}.toml", item.state.text.encode())
        written.append(place / f"{name}.toml")
    return tuple(written)


def history_on(shelf: Shelf, item: int) -> History:
    """The history of a harp on the shelf. Raises `NotOnShelf`, `HistoryError`."""
    kept = shelf.item(item)
    return read_history(Path(f"{kept.name}.toml"), kept.state.text)


def harps_on(shelf: Shelf) -> tuple[tuple[Item, Harp], ...]:
    """Every harp that is owned, as it is now (the last conversion counts)."""
    return tuple(
        (item, parse_harp(history_on(shelf, item.id).harp_now)) for item in shelf.items(Kind.HARP)
    )
