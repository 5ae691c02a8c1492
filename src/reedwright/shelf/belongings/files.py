"""Takes and packs: files that belong to a tune.

Public: `keep_take`, `keep_pack`.
"""

from __future__ import annotations

from pathlib import Path

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, Role, ShelfError


def keep_take(shelf: Shelf, tune: int, recording: Path, played_by: str = "") -> Item:
    """Keep a recording of a tune, to the byte. Raises `ShelfError`, `NotWritten`."""
    about = {"file": recording.name} | ({"played by": played_by} if played_by else {})
    return _keep(shelf, Kind.TAKE, tune, recording, recording.stem, about)


def keep_pack(shelf: Shelf, tune: int, zip_file: Path) -> Item:
    """Keep the zip of a finished pack. Raises `ShelfError`, `NotWritten`."""
    if zip_file.suffix.lower() != ".zip":
        raise ShelfError(f"{zip_file}: a pack is kept as the zip that `reedwright pack` makes.")
    return _keep(shelf, Kind.PACK, tune, zip_file, zip_file.stem, {"file": zip_file.name})


def _keep(
    shelf: Shelf, kind: Kind, tune: int, path: Path, name: str, about: dict[str, str]
) -> Item:
    with shelf.change():
        item = shelf.add(
            kind, name, Form.FILE, attachment=path, said=f"from {path.name}", about=about
        )
        shelf.link(item.id, Role.OF, [tune])
    return item
