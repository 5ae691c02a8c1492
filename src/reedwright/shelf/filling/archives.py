"""Files in a zip, read one by one into memory and never written anywhere.

A zip from anywhere may be made to do harm. Names in it are labels and nothing is unpacked to the
disk, so a name that leads out of its folder leads nowhere. How much is unpacked is bounded: by what
one file and one zip may hold, and by how far a large file may have been squeezed (text of tunes
shrinks to a third, or to a twentieth where it repeats itself; a bomb to a thousandth).

Public: `members`, `Member`, `is_zip`, `told_zip`.
"""

from __future__ import annotations

import io
import lzma
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from reedwright.shelf.filling.told import Told, label_of

MOST_MEMBERS = 200_000
MOST_IN_A_FILE = 64 * 2**20  # bytes unpacked: a tunebook of some 60,000 tunes
MOST_IN_A_ZIP = 2**30  # bytes unpacked, zips within it included
SUSPICIOUS_RATIO = 200
SMALL = 2**20  # bytes; what unpacks to no more than that is let through, however squeezed
DEEPEST = 3  # zips within zips

_DAMAGED = (
    IndexError,  # of zipfile, for an entry without a name
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    EOFError,
    NotImplementedError,  # a way of packing that zipfile does not know
    RuntimeError,  # a password is needed
    ValueError,
    OSError,
    KeyError,
)


@dataclass(frozen=True, slots=True)
class Member:
    """One file: the path of its zip and its own within, its bytes, its share of the zip (0 to 1).

    `score`: the zip as a whole is one compressed MusicXML file.
    """

    name: str
    content: bytes
    share: float
    score: bool = False


class _Allowance:
    """How many bytes may still be unpacked from a zip and from those within it."""

    def __init__(self) -> None:
        self.left = MOST_IN_A_ZIP


def is_zip(path: Path) -> bool:
    """Whether a file begins as zips do."""
    with path.open("rb") as file:
        return file.read(4) == b"PK\x03\x04"


def told_zip(name: str, error: Exception) -> Told:
    """What to tell of a zip that cannot be read."""
    return Told(name, f"This zip can't be read ({error}). Fetch or make it again.")


def members(
    path: Path,
    wanted: Callable[[str], bool],
    passed_over: Callable[[str], bool],
    tell: Callable[[Told], None],
) -> Iterator[Member]:
    """The files of a zip that are `wanted` by their names, zips within it too, in its order.

    Raises `OSError` where the zip itself cannot be opened.
    """
    with path.open("rb") as file:
        yield from _members(file, label_of(path), 1.0, wanted, passed_over, tell, _Allowance(), 1)


def _members(
    file: BinaryIO,
    label: str,
    share: float,
    wanted: Callable[[str], bool],
    passed_over: Callable[[str], bool],
    tell: Callable[[Told], None],
    allowance: _Allowance,
    depth: int,
) -> Iterator[Member]:
    try:
        archive = zipfile.ZipFile(file)
        infos = [info for info in archive.infolist() if not info.is_dir()]
    except _DAMAGED as error:
        tell(told_zip(label, error))
        return
    with archive:
        if len(infos) > MOST_MEMBERS:
            tell(Told(label, f"More than {MOST_MEMBERS} files in one zip; not read."))
            return
        if any(info.filename == "META-INF/container.xml" for info in infos):
            file.seek(0)
            yield Member(label, file.read(MOST_IN_A_FILE), share, score=True)
            return
        packed = sum(info.compress_size for info in infos) or 1
        for info in infos:
            zipped = info.filename.lower().endswith(".zip")
            if passed_over(info.filename) or not (zipped or wanted(info.filename)):
                continue
            name = f"{label}/{_plain(info.filename)}"
            part = share * info.compress_size / packed
            content = _content(archive, info, name, tell, allowance)
            if content is None:
                continue
            if not zipped:
                yield Member(name, content, part)
            elif depth >= DEEPEST:
                tell(Told(name, "Zips within zips within zips; not read. Unpack it first."))
            else:
                yield from _members(
                    io.BytesIO(content),
                    name,
                    part,
                    wanted,
                    passed_over,
                    tell,
                    allowance,
                    depth + 1,
                )


def _plain(name: str) -> str:
    """A name without what would lead out of the zip."""
    parts = PurePosixPath(name.replace("\\", "/")).parts
    return "/".join(part for part in parts if part not in ("/", "..", "."))


def _content(
    archive: zipfile.ZipFile,
    info: zipfile.ZipInfo,
    name: str,
    tell: Callable[[Told], None],
    allowance: _Allowance,
) -> bytes | None:
    size = info.file_size
    if size > MOST_IN_A_FILE:
        tell(Told(name, f"It unpacks to more than {MOST_IN_A_FILE // 2**20} MB; not read."))
        return None
    if size > SMALL and size > SUSPICIOUS_RATIO * max(1, info.compress_size):
        tell(
            Told(
                name,
                f"It unpacks to {size // max(1, info.compress_size)} times its size, which no text "
                "of tunes does; not read.",
            )
        )
        return None
    if size > allowance.left:
        tell(
            Told(
                name,
                f"The zip unpacks to more than {MOST_IN_A_ZIP // 2**20} MB; this file and those "
                "after it are not read. Unpack it first.",
            )
        )
        allowance.left = -1
        return None
    if info.flag_bits & 1:
        tell(Told(name, "It is locked with a password; not read. Unpack it first."))
        return None
    try:
        with archive.open(info) as member:
            content = member.read(MOST_IN_A_FILE + 1)  # no more than the size that was checked
    except _DAMAGED as error:
        tell(Told(name, f"This file in a zip is damaged ({error}). Fetch or make the zip again."))
        return None
    allowance.left -= len(content)
    return content
