"""Tunes from a file, whatever its format.

Public: `read_tunes`, `files_of_tunes`, `lines_of`, `decoded_lines`, `ending_of`,
`NotReadable`.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import BinaryIO

from reedwright.errors import ReedwrightError
from reedwright.tune.charsets import LATIN_1, decoded_text, without_controls
from reedwright.tune.model import Tune
from reedwright.tune.refused import Refused

ABC_ENDINGS = (".abc", ".txt")
MUSICXML_ENDINGS = (".musicxml", ".xml", ".mxl")
MIDI_ENDINGS = (".mid", ".midi", ".kar")

_CHARSET = re.compile(rb"(?:%%|I:)\s*abc-charset\s+(\S+)")
_SNIFFED_BYTES = 4096
_ENDINGS_TOLD = ".abc, .musicxml, .xml, .mxl, .mid or .midi"


class NotReadable(ReedwrightError):
    """The file is missing, closed to us, empty, or holds no tune in a format that we read."""


def files_of_tunes(places: Iterable[Path]) -> list[Path]:
    """The files named, and in folders (however deep) those that end as files of tunes do."""
    endings = ABC_ENDINGS + MUSICXML_ENDINGS + MIDI_ENDINGS
    found: list[Path] = []
    for place in places:
        if place.is_dir():
            inside = sorted(place.rglob("*"))
            found += [file for file in inside if file.suffix.lower() in endings and file.is_file()]
        else:
            found.append(place)
    return found


def read_tunes(path: Path) -> Iterator[Tune | Refused]:
    """The tunes of an ABC, MusicXML or MIDI file, one by one.

    The format follows from the ending of the name; a name with another ending is read
    by its first bytes. ABC is read as a stream, so a tunebook may be of any length.

    Raises `NotReadable` (or another `ReedwrightError` of the format's reader) at the
    first tune asked for.
    """
    beginning = _beginning(path)
    ending = path.suffix.lower()
    if ending not in ABC_ENDINGS + MUSICXML_ENDINGS + MIDI_ENDINGS:
        ending = ending_of(beginning)
    if ending in MIDI_ENDINGS:
        from reedwright.tune.midi_in import read_midi

        yield read_midi(path)
    elif ending in MUSICXML_ENDINGS:
        from reedwright.tune.musicxml_in import read_musicxml

        yield read_musicxml(path)
    elif ending in ABC_ENDINGS:
        yield from _read_abc_file(path)
    else:
        raise NotReadable(
            f"{path}: this is neither ABC nor MusicXML nor MIDI. "
            f"Give a file that ends in {_ENDINGS_TOLD}."
        )


def _beginning(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            beginning = file.read(_SNIFFED_BYTES)
    except FileNotFoundError:
        raise NotReadable(f"{path}: there is no such file. Check the name and folder.") from None
    except IsADirectoryError:
        raise NotReadable(f"{path} is a folder. Give one of the files in it.") from None
    except PermissionError:
        raise NotReadable(f"{path}: you have no permission to read this file.") from None
    except (OSError, ValueError) as error:
        raise NotReadable(f"{path}: this file can't be read ({error}).") from None
    if not beginning:
        raise NotReadable(f"{path}: this file is empty.")
    return beginning


def ending_of(beginning: bytes) -> str:
    """The usual ending for content that begins so, or nothing."""
    if beginning.startswith(b"MThd"):
        return ".mid"
    if beginning.startswith(b"PK\x03\x04"):
        return ".mxl"
    text = beginning.lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n")
    if text.startswith((b"<?xml", b"<score-", b"<!DOCTYPE")):
        return ".xml"
    if b"\x00" not in beginning and any(
        line.startswith((b"X:", b"%abc")) for line in text.splitlines()
    ):
        return ".abc"
    return ""


def _read_abc_file(path: Path) -> Iterator[Tune | Refused]:
    from reedwright.tune.abc import read_tunebook

    found = False
    for tune in read_tunebook(_lines(path), str(path)):
        found = True
        yield tune
    if not found:
        raise NotReadable(
            f"{path}: there is no tune in this file. A tune in ABC begins with a line `X:1`."
        )


def _lines(path: Path) -> Iterator[str]:
    """Lines one by one, whatever ends them, decoded as `decoded_lines` says."""
    with path.open("rb") as file:
        yield from lines_of(file)


def lines_of(file: BinaryIO) -> Iterator[str]:
    """As `decoded_lines`, of an open file; one that begins with a mark of UTF-16 is read so."""
    if file.read(2) in (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE):
        file.seek(0)
        text = without_controls(file.read().decode("utf-16", "replace"))
        yield from text.splitlines(keepends=True)
        return
    file.seek(0)
    yield from decoded_lines(file)


def decoded_lines(lines: Iterable[bytes]) -> Iterator[str]:
    """Lines of ABC, each by UTF-8, else by the charset that the file declares, else by Latin-1.

    `%%abc-charset` or `I:abc-charset` declares one (ABC standard 2.1, section 8.1).
    `charsets` says what is taken as Latin-1. Tunebooks gathered from
    several sources mix encodings, hence line by line. A line may end in a carriage return
    too, as on old computers.
    """
    charset = LATIN_1
    split = (line for chunk in lines for line in chunk.splitlines(keepends=True))
    for number, line in enumerate(split):
        if number == 0:
            line = line.removeprefix(codecs.BOM_UTF8)
        declared = _CHARSET.match(line)
        if declared:
            charset = _known_charset(declared[1].decode("latin-1"))
        yield decoded_text(line, charset)


def _known_charset(name: str) -> str:
    """The declared charset if it is one that keeps ASCII, or Latin-1."""
    try:
        known = codecs.lookup(name)
        plain = known.name != "utf-8" and "X:1".encode(known.name) == b"X:1"
    except (LookupError, ValueError, UnicodeError, TypeError):
        return LATIN_1
    return known.name if plain and known.name != "iso8859-1" else LATIN_1
