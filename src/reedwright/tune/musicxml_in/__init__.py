"""MusicXML read into a tune. Public: `read_musicxml`, `read_musicxml_text`, `BadMusicXml`.

Our own reader on the standard library's XML parser: the score library that we tried
loses lyrics, metre signs, beats of tempo marks and counts of repeats, and takes
seconds to import (measured in docs/formats.md).
Follows the W3C's MusicXML 4.0.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from xml.etree.ElementTree import Element

from reedwright.tune.abc.parts import read_part_order
from reedwright.tune.keyfinding import key_in_signature
from reedwright.tune.model import Field, Place, Problem, Severity, Tempo, Tune, Voice
from reedwright.tune.musicxml_in.attributes import text_of
from reedwright.tune.musicxml_in.opening import (
    BadMusicXml,
    OpenedScore,
    open_musicxml,
    parse_score,
)
from reedwright.tune.musicxml_in.parts import PartReader
from reedwright.tune.transpose import transposed

__all__ = ["BadMusicXml", "read_musicxml", "read_musicxml_text"]

_KEPT_FIELDS = {
    "origin": "O",
    "area": "A",
    "rhythm": "R",
    "book": "B",
    "discography": "D",
    "history": "H",
    "notes": "N",
    "group": "G",
    "file": "F",
    "parts": "P",
}
_NO_PLACE = Place(1, 1)
_UNTITLED = ("untitled", "title", "music21 fragment")


def read_musicxml(path: Path, data: bytes | None = None) -> Tune:
    """The tune in a .musicxml, .xml or .mxl file. `data`: what is in it, where that is known.

    Raises `BadMusicXml` where the file is broken, too big, hostile, or has no notes.
    """
    return _read(open_musicxml(path, data), str(path))


def read_musicxml_text(text: str, source: str = "") -> Tune:
    """The tune in a MusicXML document. Raises `BadMusicXml`."""
    return _read(parse_score(text.encode("utf-8"), source or "this MusicXML"), source)


def _read(score: OpenedScore, source: str) -> Tune:
    names = {
        part.get("id", ""): text_of(part, "part-name") for part in score.root.iter("score-part")
    }
    places = iter(score.note_places)
    readers: list[PartReader] = []
    voices: list[Voice] = []
    problems: list[Problem] = []
    for part in score.root.findall("part"):
        ids = "" if not readers else f"p{len(readers) + 1}"
        reader = PartReader(part, names.get(part.get("id", ""), ""), places, ids)
        readers.append(reader)
        problems += reader.problems
        voices += _at_sounding_pitch(reader, problems)
    if not any(note for voice in voices for note in voice.notes):
        raise BadMusicXml(f"{source or 'this MusicXML'}: there are no notes in this score.")
    numbered = tuple(
        replace(voice, name=str(number)) for number, voice in enumerate(voices, start=1)
    )
    if len(numbered) > 1:
        problems.append(
            Problem(
                Severity.WARNING,
                f"there are {len(numbered)} voices; the first is taken as the tune unless "
                "another is asked for",
                numbered[0].bars[0].place,
            )
        )
    numbered = _with_mode(numbered, problems)
    fields = _fields(score.root)
    first_bar = numbered[0].bars[0]
    return Tune(
        number=text_of(score.root, "work/work-number") or "1",
        titles=_titles(score.root),
        key=first_bar.key,
        meter=first_bar.meter,
        voices=numbered,
        tempo=_tempo(readers),
        type=next((f.text for f in fields if f.code == "R"), ""),
        fields=fields,
        part_order=_part_order(fields),
        problems=tuple(problems),
        source=source,
    )


def _with_mode(voices: tuple[Voice, ...], problems: list[Problem]) -> tuple[Voice, ...]:
    """Where the first signature tells no mode, the likeliest key of that signature."""
    told = voices[0].bars[0].key
    if not told.estimated:
        return voices
    notes = list(voices[0].notes) or [n for voice in voices for n in voice.notes]
    durations = [(note.pitch.midi, float(note.length)) for note in notes]
    key = key_in_signature(told.fifths, durations, notes[-1].pitch.midi)
    key = replace(key, clef=told.clef)
    problems.append(
        Problem(
            Severity.REPAIRED,
            f"the file names no mode; {key.name} is estimated from the signature and the notes",
            voices[0].bars[0].place,
        )
    )
    return tuple(
        replace(
            voice,
            bars=tuple(replace(b, key=key) if b.key == told else b for b in voice.bars),
        )
        for voice in voices
    )


def _at_sounding_pitch(reader: PartReader, problems: list[Problem]) -> list[Voice]:
    """The voices of a part; those of a transposing instrument as they sound."""
    if not reader.transposition or not reader.voices:
        return reader.voices
    written = Tune("", (), reader.key, reader.meter, tuple(reader.voices))
    problems.append(
        Problem(
            Severity.REPAIRED,
            f"written for a transposing instrument ({reader.transposition:+d} semitones); "
            "read as it sounds",
            reader.voices[0].bars[0].place,
        )
    )
    return list(transposed(written, reader.transposition).voices)


def _tempo(readers: list[PartReader]) -> Tempo | None:
    return next((reader.tempo for reader in readers if reader.tempo is not None), None)


def _titles(root: Element) -> tuple[str, ...]:
    """Work and movement titles, then further titles that our own writer kept."""
    found = [text_of(root, "work/work-title"), text_of(root, "movement-title")]
    if not any(found):
        found = [
            text_of(credit, "credit-words")
            for credit in root.findall("credit")
            if text_of(credit, "credit-type") == "title"
        ]
    found += [text for name, text in _miscellaneous(root) if name == "title"]
    titles = dict.fromkeys(t for t in found if t and t.lower() not in _UNTITLED)
    return tuple(titles)


def _fields(root: Element) -> tuple[Field, ...]:
    """What the header says, under ABC's letters."""
    fields = [Field("T", title, _NO_PLACE) for title in _titles(root)]
    for creator in root.findall("identification/creator"):
        text = (creator.text or "").strip()
        kind = creator.get("type", "composer")
        if text and text.lower() not in ("composer", "music21"):
            fields.append(
                Field("C", text, _NO_PLACE)
                if kind == "composer"
                else Field("N", f"{kind.capitalize()}: {text}", _NO_PLACE)
            )
    for rights in root.findall("identification/rights"):
        if rights.text and rights.text.strip():
            fields.append(Field("Z", f"abc-copyright {rights.text.strip()}", _NO_PLACE))
    source = text_of(root, "identification/source")
    if source:
        fields.append(Field("S", source, _NO_PLACE))
    fields += [
        Field(_KEPT_FIELDS[name], text, _NO_PLACE)
        for name, text in _miscellaneous(root)
        if name in _KEPT_FIELDS
    ]
    return tuple(fields)


def _part_order(fields: tuple[Field, ...]) -> tuple[str, ...]:
    """The order of the parts that rehearsal marks label; MusicXML itself has no word for it."""
    return next((read_part_order(f.text) or () for f in fields if f.code == "P"), ())


def _miscellaneous(root: Element) -> list[tuple[str, str]]:
    return [
        (element.get("name", ""), " ".join((element.text or "").split()))
        for element in root.iter("miscellaneous-field")
        if element.text and element.text.strip()
    ]
