"""The files of an import, one by one: those named, those in folders and those in zips.

Public: `Source`, `sources`, `total_size`.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from reedwright.shelf.filling.archives import is_zip, members, told_zip
from reedwright.shelf.filling.told import Told, label_of
from reedwright.shelf.model import Form
from reedwright.tune.reading import ABC_ENDINGS, MIDI_ENDINGS, MUSICXML_ENDINGS, ending_of

ZIP_ENDING = ".zip"
_SNIFFED_BYTES = 4096
_OTHER_FILES = ("__MACOSX",)  # what macOS puts into its zips beside the files themselves

Tell = Callable[[Told], None]


@dataclass(frozen=True, slots=True)
class Source:
    """A file of tunes. `name` is its whole path; in a zip, the zip's and then that within.

    `form` is what it is by its name (or by its beginning, where it was named by the user);
    `content` is what is in it where that is in memory, else it is read from `path`. `size` in
    bytes on the disk. `named`: the user named this very file.
    """

    name: str
    form: Form
    path: Path
    size: float
    content: bytes | None = None
    named: bool = False


def form_of(name: str) -> Form | None:
    """What a file is by the ending of its name; None for what is no file of tunes."""
    ending = Path(name).suffix.lower()
    if ending in ABC_ENDINGS:
        return Form.ABC
    if ending in MUSICXML_ENDINGS:
        return Form.MUSICXML
    return Form.MIDI if ending in MIDI_ENDINGS else None


def is_hidden(name: str) -> bool:
    """Files that programs keep for themselves beside those of people."""
    parts = name.replace("\\", "/").split("/")
    return any(part.startswith(".") and part not in (".", "..") for part in parts) or any(
        part in _OTHER_FILES for part in parts
    )


def total_size(places: Sequence[Path]) -> int:
    """Bytes of all files that `sources` will come to, about; for telling how far it is."""
    return sum(_size(path) for path, _ in _files(places, lambda _: None))


def sources(places: Sequence[Path], tell: Tell) -> Iterator[Source]:
    """Every file of tunes once, folders in the order of their names.

    What cannot be opened is told, and the others are given all the same.
    """
    for path, named in _files(places, tell):
        try:
            ending = path.suffix.lower()
            if ending == ZIP_ENDING or (named and form_of(path.name) is None and is_zip(path)):
                yield from _in_zip(path, tell)
                continue
            form = form_of(path.name) or _by_beginning(path)
        except OSError as error:
            tell(Told(label_of(path), f"This file can't be read ({error.strerror or error})."))
            continue
        if form is None:
            tell(
                Told(
                    label_of(path),
                    "This is neither ABC nor MusicXML nor MIDI nor a zip of such files.",
                )
            )
            continue
        yield Source(label_of(path), form, path, _size(path), named=named)


def _in_zip(path: Path, tell: Tell) -> Iterator[Source]:
    """What is in a zip; a zip that is itself one score (as .mxl is) is given as that."""
    size = _size(path)
    try:
        for member in members(path, lambda name: form_of(name) is not None, is_hidden, tell):
            form = Form.MUSICXML if member.score else form_of(member.name)
            if form is not None:
                yield Source(member.name, form, path, size * member.share, member.content)
    except OSError as error:
        tell(told_zip(label_of(path), error))


def _files(places: Sequence[Path], tell: Tell) -> Iterator[tuple[Path, bool]]:
    """Files that are named, and those in folders whose names end as files of tunes do."""
    seen: set[Path] = set()
    for place in places:
        try:
            whole = place.resolve()
            folder = whole.is_dir()
            there = whole.exists()
        except (OSError, RuntimeError, ValueError) as error:
            tell(Told(label_of(place), f"This place can't be looked at ({error})."))
            continue
        if not there:
            tell(Told(label_of(place), "There is no such file or folder. Check the name."))
            continue
        if not folder and not whole.is_file():
            tell(Told(label_of(place), "This is neither a file nor a folder."))
            continue
        for file, named in _walked(whole, tell) if folder else ((whole, True),):
            real = file.resolve()
            if real not in seen:
                seen.add(real)
                yield file, named


def _walked(folder: Path, tell: Tell) -> Iterator[tuple[Path, bool]]:
    def closed(error: OSError) -> None:
        tell(Told(label_of(Path(error.filename)), f"This folder can't be read ({error.strerror})."))

    for place, inside, names in os.walk(folder, onerror=closed):
        inside[:] = sorted(name for name in inside if not is_hidden(name))
        for name in sorted(names):
            ending = Path(name).suffix.lower()
            if is_hidden(name) or not (form_of(name) or ending == ZIP_ENDING):
                continue
            path = Path(place) / name
            if path.is_file():
                yield path, False


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _by_beginning(path: Path) -> Form | None:
    with path.open("rb") as file:
        return form_of("x" + ending_of(file.read(_SNIFFED_BYTES)))
