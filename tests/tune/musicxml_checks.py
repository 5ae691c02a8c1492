"""Outside checks for MusicXML: the W3C schema, and two independent readers."""

from __future__ import annotations

import functools
import warnings
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import NamedTuple

import music21
import xmlschema
from lxml import etree

from reedwright.tune.model import Note, Rest, Tune

SCHEMA = Path(__file__).parents[1] / "data" / "musicxml-4.0" / "musicxml.xsd"
# The XML and XLink schemas of the W3C that MusicXML's imports come with the xmlschema library.
_W3C = Path(xmlschema.__file__).parent / "schemas"
_IMPORTED = {"/xml.xsd": _W3C / "XML" / "xml.xsd", "/xlink.xsd": _W3C / "XLINK" / "xlink.xsd"}


class _Local(etree.Resolver):
    def resolve(self, system_url, public_id, context):
        for end, path in _IMPORTED.items():
            if system_url.endswith(end):
                return self.resolve_filename(str(path), context)
        return None


@functools.cache
def schema() -> etree.XMLSchema:
    parser = etree.XMLParser()
    parser.resolvers.add(_Local())
    return etree.XMLSchema(etree.parse(str(SCHEMA), parser))


def schema_errors(text: str) -> list[str]:
    """What the W3C schema of MusicXML 4.0 has to say against a document."""
    schema().validate(etree.fromstring(text.encode()))
    return [str(error) for error in schema().error_log]


class Sound(NamedTuple):
    """One pitch of a written note: its bar (from 0), where in it, how long; quarter notes."""

    bar: int
    onset: Fraction
    length: Fraction
    midi: int


def model_sounds(tune: Tune, voice: int = 0) -> list[Sound]:
    """What the model holds; notes that it ties inside one bar are joined, too."""
    found: list[Sound] = []
    ties: set[int] = set()
    for sound, tied in _model_sounds(tune, voice):
        if sound.midi in ties:
            sound = _joined(found, sound)
        found.append(sound)
        (ties.add if tied else ties.discard)(sound.midi)
    return sorted(found)


def _model_sounds(tune: Tune, voice: int) -> Iterator[tuple[Sound, bool]]:
    for bar in tune.voices[voice].bars:
        onset = Fraction(0)
        for event in bar.events:
            if isinstance(event, Note):
                for pitch, tied in zip(event.pitches, event.ties, strict=True):
                    yield Sound(bar.index, onset, event.length, pitch.midi), tied
            if isinstance(event, Note | Rest):
                onset += event.length


def music21_part(text: str) -> music21.stream.Part:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return music21.converter.parse(text, format="musicxml").parts[0]


def music21_sounds(text: str) -> list[Sound]:
    """What music21 reads: grace notes apart, notes split by ties inside a bar joined."""
    found: list[Sound] = []
    for index, measure in enumerate(music21_part(text).getElementsByClass("Measure")):
        for element in measure.recurse().notes:
            if element.duration.isGrace or isinstance(element, music21.harmony.Harmony):
                continue
            onset = Fraction(element.getOffsetInHierarchy(measure))
            length = Fraction(element.duration.quarterLength)
            for member in element.notes if element.isChord else (element,):
                sound = Sound(index, onset, length, member.pitch.midi)
                if member.tie is not None and member.tie.type != "start":
                    sound = _joined(found, sound)
                found.append(sound)
    return sorted(found)


def _joined(found: list[Sound], rest: Sound) -> Sound:
    """A note and the rest of it that a tie in the same bar makes; `found` loses the first."""
    for before in found:
        ends = abs(before.onset + before.length - rest.onset) < Fraction(1, 1000)
        if (before.bar, before.midi) == (rest.bar, rest.midi) and ends:
            found.remove(before)
            return before._replace(length=before.length + rest.length)
    return rest


def nearly(sounds: list[Sound]) -> list[tuple[int, float, float, int]]:
    """Comparable with readers that keep lengths as floating-point numbers."""
    return [(s.bar, round(float(s.onset), 4), round(float(s.length), 4), s.midi) for s in sounds]
