"""Opening a MusicXML file safely: plain or compressed, of bounded size, without entities.

A file from anywhere may be broken or made to do harm: a small archive that
unpacks to gigabytes, or entities that multiply. Each gets one clear `BadMusicXml`.
"""

from __future__ import annotations

import zipfile
import zlib
from pathlib import Path
from typing import NamedTuple
from xml.etree import ElementTree
from xml.parsers import expat

from reedwright.errors import ReedwrightError
from reedwright.tune.model import Place

MAX_BYTES = 32 * 1024 * 1024
"""Unpacked. A full orchestral score is some 20 MB; a tune is some 50 kB."""
MAX_DEPTH = 100
"""Nested elements. MusicXML 4.0 itself needs about ten."""

_CONTAINER = "META-INF/container.xml"


class BadMusicXml(ReedwrightError):
    """The file is not MusicXML that can be read."""


class OpenedScore(NamedTuple):
    """The root element (always score-partwise) and where each note stands, in document order."""

    root: ElementTree.Element
    note_places: list[Place]


def open_musicxml(path: Path, data: bytes | None = None) -> OpenedScore:
    """Read a .musicxml, .xml or .mxl file, or `data` that was read from it elsewhere.

    Raises `BadMusicXml`.
    """
    if data is None:
        try:
            with path.open("rb") as file:
                data = file.read(MAX_BYTES + 1)
        except OSError as error:
            raise BadMusicXml(f"{path}: this file can't be read ({error.strerror}).") from None
    if data.startswith(b"PK"):
        data = _unpacked(data, path)
    return parse_score(data, str(path))


def parse_score(data: bytes, name: str) -> OpenedScore:
    """Parse a MusicXML document. `name` is for messages."""
    if len(data) > MAX_BYTES:
        raise BadMusicXml(f"{name}: more than {MAX_BYTES // 2**20} MB is no tune; not read.")
    if not data.strip():
        raise BadMusicXml(f"{name}: this file is empty.")
    places = _checked_places(data, name)
    try:
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError, LookupError) as error:
        raise BadMusicXml(f"{name}: this is not well-formed XML ({error}).") from None
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2]  # some programs add a namespace
    if root.tag == "score-timewise":
        return OpenedScore(_partwise(root, name), _partwise_places(root, places))
    if root.tag != "score-partwise":
        raise BadMusicXml(
            f"{name}: this is XML, but not MusicXML: it begins with <{root.tag}>, not with "
            "<score-partwise> or <score-timewise>."
        )
    return OpenedScore(root, places)


def _checked_places(data: bytes, name: str) -> list[Place]:
    """Where each note begins. Refuses entities and deep nesting before a tree is built."""
    parser = expat.ParserCreate(namespace_separator="}")
    places: list[Place] = []
    depth = 0

    def start(tag: str, _: dict[str, str]) -> None:
        nonlocal depth
        depth += 1
        if depth > MAX_DEPTH:
            raise BadMusicXml(f"{name}: elements nested more than {MAX_DEPTH} deep; not read.")
        if tag == "note" or tag.endswith("}note"):
            places.append(Place(parser.CurrentLineNumber, parser.CurrentColumnNumber + 1))

    def end(_: str) -> None:
        nonlocal depth
        depth -= 1

    def entity(*_: object) -> None:
        raise BadMusicXml(f"{name}: it declares XML entities, which no music needs; not read.")

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.EntityDeclHandler = entity
    try:
        parser.Parse(data, True)
    except expat.ExpatError as error:
        raise BadMusicXml(
            f"{name}, line {error.lineno}, column {error.offset + 1}: this is not well-formed XML "
            f"({expat.ErrorString(error.code)}). Save it again from the program that made it."
        ) from None
    except (ValueError, LookupError) as error:
        raise BadMusicXml(f"{name}: this is not well-formed XML ({error}).") from None
    return places


def _unpacked(data: bytes, path: Path) -> bytes:
    """The score inside a compressed file (.mxl), named by its container or else found."""
    import io

    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return _member(archive, _root_file(archive, path), path)
    except BadMusicXml:
        raise
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        NotImplementedError,  # what zipfile raises for a compression that it does not know
        RuntimeError,  # and for a file with a password
        ValueError,
        OSError,
        KeyError,
    ) as error:
        raise BadMusicXml(
            f"{path}: this compressed MusicXML file is damaged ({error}). Fetch or save it again."
        ) from None


def _root_file(archive: zipfile.ZipFile, path: Path) -> str:
    names = archive.namelist()
    if _CONTAINER in names:
        container = _member(archive, _CONTAINER, path)
        _checked_places(container, f"{path}: {_CONTAINER}")
        for element in ElementTree.fromstring(container).iter():
            full_path = element.get("full-path")
            if element.tag.rpartition("}")[2] == "rootfile" and full_path in names:
                return full_path or ""
    for name in names:
        if name.lower().endswith((".musicxml", ".xml")) and not name.startswith("META-INF/"):
            return name
    raise BadMusicXml(f"{path}: there is no MusicXML in this archive.")


def _member(archive: zipfile.ZipFile, name: str, path: Path) -> bytes:
    with archive.open(name) as member:
        content = member.read(MAX_BYTES + 1)
    if len(content) > MAX_BYTES:
        raise BadMusicXml(f"{path}: unpacks to more than {MAX_BYTES // 2**20} MB; not read.")
    return content


def _partwise(root: ElementTree.Element, name: str) -> ElementTree.Element:
    """A timewise score turned into a partwise one."""
    parts: dict[str, ElementTree.Element] = {}
    score = ElementTree.Element("score-partwise", root.attrib)
    for child in root:
        if child.tag != "measure":
            score.append(child)
            continue
        for part in child.iter("part"):
            id_ = part.get("id", "")
            if id_ not in parts:
                parts[id_] = ElementTree.Element("part", {"id": id_})
            measure = ElementTree.SubElement(parts[id_], "measure", child.attrib)
            measure.extend(list(part))
    if not parts:
        raise BadMusicXml(f"{name}: there is no part in this score.")
    score.extend(parts.values())
    return score


def _partwise_places(root: ElementTree.Element, places: list[Place]) -> list[Place]:
    """Places of a timewise score's notes, put in the order of the partwise one."""
    numbered: dict[str, list[Place]] = {}
    k = 0
    for measure in root.iter("measure"):
        for part in measure.iter("part"):
            count = sum(1 for _ in part.iter("note"))
            numbered.setdefault(part.get("id", ""), []).extend(places[k : k + count])
            k += count
    return [place for of_part in numbered.values() for place in of_part]
