"""Files that a browser sends, laid down under names of our own until they are taken in.

What a browser calls a file is shown, and is no place on the disk: there it lies in a folder named
for a hash of that name, under what small letters, digits and hyphens make of it. So a file that is
sent again lies where it lay before, by which the shelf knows that a tune stands otherwise in its
file now; and a score without a title is called as its file is.

Public: `Sent`, `laid_down`, `cleared`, `left_behind`, `as_sent`, `TooManyFiles`.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import shutil
import tempfile
import time
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePosixPath
from typing import BinaryIO, NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.files import not_written
from reedwright.folders.names import file_name
from reedwright.shelf.filling.places import ZIP_ENDING, form_of, is_hidden

FOLDER = "incoming"  # on the shelf
MOST_FILES = 5_000  # sent at once; more are better sent as a zip
STALE = 24 * 3600.0  # seconds
LONGEST_NAME = 400  # letters that are shown


class TooManyFiles(ReedwrightError):
    """More files than are taken at once."""


class Sent(NamedTuple):
    """A file as the browser sent it: its name there, with the folders it stood in, and bytes."""

    name: str
    file: BinaryIO


def laid_down(shelf: Path, sent: Iterable[Sent]) -> dict[str, str]:
    """Write them to the shelf's folder; their places there with the names that they are shown by.

    Of a folder, what is hidden and what is no file of tunes by its name is passed over, as on a
    disk. Raises `TooManyFiles`, `NotWritten`.
    """
    folder = shelf / FOLDER
    found: dict[str, str] = {}
    try:
        folder.mkdir(parents=True, exist_ok=True)
        for each in sent:
            shown = _shown(each.name)
            inside = "/" in shown
            if inside and (is_hidden(shown) or not _of_tunes(shown)):
                continue
            if len(found) >= MOST_FILES:
                raise TooManyFiles(
                    f"More than {MOST_FILES:,} files at once. Put them into a zip, and send that."
                )
            place = folder / _place(shown)
            _write(place, each.file)
            found[str(place.resolve())] = shown
    except OSError as error:
        raise not_written(folder, error) from error
    return found


def _shown(name: str) -> str:
    """A name as it may be shown: with `/` between folders, no signs that control anything."""
    plain = "".join(sign if sign.isprintable() else "\ufffd" for sign in name.replace("\\", "/"))
    plain = plain.encode("utf-8", "replace").decode("utf-8")
    return plain[-LONGEST_NAME:].strip("/ ") or "a file without a name"


def _of_tunes(name: str) -> bool:
    return form_of(name) is not None or PurePosixPath(name).suffix.lower() == ZIP_ENDING


def _place(shown: str) -> str:
    path = PurePosixPath(shown)
    ending = path.suffix.lower() if _of_tunes(shown) else ""
    return f"{hashlib.sha256(shown.encode()).hexdigest()[:16]}/{file_name(path.stem)}{ending}"


def _write(place: Path, file: BinaryIO) -> None:
    """In one piece: another import may be reading what lies there."""
    place.parent.mkdir(exist_ok=True)
    handle, name = tempfile.mkstemp(dir=place.parent, prefix=".sent-")
    try:
        with os.fdopen(handle, "wb") as out:
            shutil.copyfileobj(file, out)
        Path(name).replace(place)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def cleared(places: Iterable[str]) -> None:
    """Take away what was taken in."""
    for place in map(Path, places):
        place.unlink(missing_ok=True)
        with contextlib.suppress(OSError):  # something else lies there
            place.parent.rmdir()


def left_behind(shelf: Path) -> list[str]:
    """Files that lie there for a day and more: the program was killed while they were taken in."""
    old = time.time() - STALE
    found = []
    for path in (shelf / FOLDER).rglob("*"):
        with contextlib.suppress(OSError):  # it has just gone
            if path.is_file() and path.stat().st_mtime < old:
                found.append(str(path))
    return found


def as_sent(text: str, names: Mapping[str, str]) -> str:
    """A file's place, or one within a zip, by the name that the browser had for it."""
    for place, shown in names.items():
        if text == place or text.startswith(f"{place}/"):
            return shown + text[len(place) :]
    return text
