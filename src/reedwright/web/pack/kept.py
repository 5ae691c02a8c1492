"""Packs that are kept with their tune on the shelf, and the files in them.

Public: `KeptPack`, `KeptFile`, `packs_of`, `kept_pack`, `file_of`, `keep`, `name_for`.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from reedwright.folders.manifest import MANIFEST_NAME
from reedwright.folders.names import unused_file_name
from reedwright.shelf.belongings.files import keep_pack
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, Kind, NotOnShelf, Role
from reedwright.tune.model import Tune


@dataclass(frozen=True, slots=True)
class KeptFile:
    name: str
    what: str

    @property
    def ending(self) -> str:
        return Path(self.name).suffix


@dataclass(frozen=True, slots=True)
class KeptPack:
    """`files` in the order in which to look at them; none where the zip was harmed."""

    id: int
    name: str
    at: datetime
    harp: str
    files: tuple[KeptFile, ...]


def packs_of(shelf: Shelf, tune: int) -> tuple[KeptPack, ...]:
    """The last made first."""
    items = _items(shelf, tune)
    return tuple(
        _told(shelf, item) for item in sorted(items, key=lambda each: each.state.at, reverse=True)
    )


def kept_pack(shelf: Shelf, tune: int, number: int) -> Path:
    """The zip of a pack of that tune. Raises `NotOnShelf`."""
    item = shelf.item(number)
    of_tune = any(link.to == tune for link in shelf.links(number, Role.OF))
    path = shelf.attachments.path(item.state.attachment)
    if item.kind is not Kind.PACK or not of_tune or not path.is_file():
        raise NotOnShelf("There is no such pack of this tune on the shelf.")
    return path


def file_of(pack: Path, name: str) -> bytes:
    """A file in the zip by its name, which is compared and never a path. Raises `NotOnShelf`."""
    try:
        with zipfile.ZipFile(pack) as archive:
            for entry in archive.infolist():
                if entry.filename.rpartition("/")[2] == name:
                    return archive.read(entry)
    except (OSError, zipfile.BadZipFile):
        raise NotOnShelf("The pack on the shelf was harmed. Make it again.") from None
    raise NotOnShelf(f"There is no file '{name}' in this pack.")


def keep(shelf: Shelf, tune: int, pack: Path) -> Item:
    """Keep the zip with its tune: as a new state where a pack of this name was kept before."""
    content = pack.read_bytes()
    for item in _items(shelf, tune):
        if item.name == pack.stem:
            if item.state.attachment == hashlib.sha256(content).hexdigest():
                return item
            said = f"from {pack.name}"
            return shelf.revise(item.id, attachment=content, form=Form.FILE, said=said)
    return keep_pack(shelf, tune, pack)


def name_for(shelf: Shelf, item: Item, tune: Tune) -> str:
    """The name of the tune's pack: as it was called before, else one that no other tune's has."""
    mine = {each.name for each in _items(shelf, item.id)}
    names = shelf.names(Kind.PACK) | shelf.names(Kind.PACK, removed=True)
    others = set(names.values()) - mine
    return unused_file_name(tune.title, tune.number or str(item.id), others)


def _items(shelf: Shelf, tune: int) -> list[Item]:
    found = (shelf.item(link.item) for link in shelf.linked_to(tune, Role.OF))
    return [each for each in found if each.kind is Kind.PACK and not each.removed]


def _told(shelf: Shelf, item: Item) -> KeptPack:
    harp, files = "", tuple[KeptFile, ...]()
    try:
        about = json.loads(file_of(shelf.attachments.path(item.state.attachment), MANIFEST_NAME))
        harp = str(about["harp"]["name"])
        files = tuple(KeptFile(str(each["name"]), str(each["what"])) for each in about["files"])
    except (NotOnShelf, ValueError, LookupError, TypeError):
        pass  # it can still be downloaded
    return KeptPack(item.id, item.name, item.state.at, harp, files)
