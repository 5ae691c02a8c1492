"""One note, chord, rest or grace note as MusicXML elements."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from xml.etree.ElementTree import Element

from reedwright.tune.model import Lyric, Note, Pitch, Rest
from reedwright.tune.musicxml.accidentals import Accidentals
from reedwright.tune.musicxml.lengths import Printed, printed_notes
from reedwright.tune.musicxml.signs import (
    ARTICULATIONS,
    FERMATAS,
    FINGERS,
    ORNAMENTS,
    TECHNICAL,
)
from reedwright.tune.musicxml.spans import Spans
from reedwright.tune.musicxml.xml import add
from reedwright.tune.rows import TabRow

Beams = Sequence[tuple[int, str]]
LONE_GRACE_TYPE, GROUPED_GRACE_TYPE = "eighth", "16th"


@dataclass(frozen=True, slots=True)
class NoteWriter:
    """What writing a note needs to know of the voice around it.

    `divisions`: MusicXML's units in a quarter note. `rows` become the first verses.
    """

    divisions: int
    rows: Sequence[TabRow]
    spans: Spans

    def note(
        self, measure: Element, note: Note, state: Accidentals, beams: Sequence[Beams], voice: int
    ) -> None:
        """Write a note or chord, its grace notes before it. `beams` one for each printed note."""
        inside = any(level == 1 and shape != "begin" for level, shape in beams[0])
        self._graces(measure, note, state, voice, inside)
        pieces = printed_notes(note.length, note.tuplet)
        starts = self.spans.tie_starts.get(note.id, set())
        stops = self.spans.tie_stops.get(note.id, set())
        for index, piece in enumerate(pieces):
            first, last = index == 0, index == len(pieces) - 1
            for member, pitch in enumerate(note.pitches):
                element = add(measure, "note", id=_part_id(note.id, index, member))
                if member:
                    add(element, "chord")
                _pitch(element, pitch)
                self._duration(element, piece.length)
                stop = pitch in stops if first else True
                start = pitch in starts if last else True
                for kind, on in (("stop", stop), ("start", start)):
                    if on:
                        add(element, "tie", type=kind)
                add(element, "voice", voice)
                _type(element, piece)
                sign = state.needed(pitch, explicit=note.explicit and first, tied=stop)
                if sign:
                    add(element, "accidental", sign)
                _modification(element, piece)
                if member == 0:
                    for level, shape in beams[index]:
                        add(element, "beam", shape, number=level)
                self._notations(element, note, stop, start, (first, last, member == 0))
                if first and member == 0:
                    self._verses(element, note.id, note.lyrics)

    def rest(self, measure: Element, rest: Rest, voice: int) -> None:
        pieces = printed_notes(rest.length, rest.tuplet)
        if rest.whole_bar:
            pieces = (Printed("whole", 0, rest.length),)
        for index, piece in enumerate(pieces):
            element = add(
                measure,
                "note",
                id=_part_id(rest.id, index, 0),
                print_object=None if rest.visible else "no",
            )
            add(element, "rest", measure="yes" if rest.whole_bar else None)
            self._duration(element, piece.length)
            add(element, "voice", voice)
            if not rest.whole_bar:
                _type(element, piece)
            _modification(element, piece)
            notations = Element("notations")
            if rest.tuplet:
                _tuplet_ends(notations, rest.tuplet.first and index == 0, rest.tuplet.last)
            _fermatas(notations, rest.decorations)
            if len(notations):
                element.append(notations)

    def _graces(
        self, measure: Element, note: Note, state: Accidentals, voice: int, inside_beam: bool
    ) -> None:
        last = len(note.graces) - 1
        for index, grace in enumerate(note.graces):
            element = add(measure, "note", id=grace.id)
            add(element, "grace", slash="yes" if note.slashed and index == 0 else None)
            _pitch(element, grace.pitch)
            add(element, "voice", voice)
            add(element, "type", GROUPED_GRACE_TYPE if last else LONE_GRACE_TYPE)
            sign = state.needed(grace.pitch)
            if sign:
                add(element, "accidental", sign)
            for level, shape in _grace_beams(index, last, inside_beam):
                add(element, "beam", shape, number=level)
            self._verses(element, grace.id, ())

    def _duration(self, element: Element, length: Fraction) -> None:
        add(element, "duration", length * self.divisions)

    def _verses(self, element: Element, id_: str, lyrics: Sequence[Lyric | None]) -> None:
        for number, row in enumerate(self.rows, start=1):
            text = row.texts.get(id_)
            if text:
                _lyric(element, number, row.name, "single", text)
        for number, lyric in enumerate(lyrics, start=len(self.rows) + 1):
            if lyric is not None:
                # A syllable that begins and one inside a word are not told apart by the
                # model; readers join syllables at the hyphens all the same.
                syllabic = "begin" if lyric.hyphen else "single"
                verse = _lyric(element, number, None, syllabic, lyric.text)
                if lyric.extends:
                    add(verse, "extend")

    def _notations(
        self, element: Element, note: Note, stop: bool, start: bool, where: tuple[bool, bool, bool]
    ) -> None:
        first, last, main = where
        notations = Element("notations")
        for kind, on in (("stop", stop), ("start", start)):
            if on:
                add(notations, "tied", type=kind)
        if main and first:
            for number in self.spans.slur_stops.get(note.id, ()):
                add(notations, "slur", type="stop", number=number)
        if main and last:
            for number in self.spans.slur_starts.get(note.id, ()):
                add(notations, "slur", type="start", number=number)
        if main and note.tuplet:
            _tuplet_ends(notations, note.tuplet.first and first, note.tuplet.last and last)
        if main and first:
            _decorations(notations, note.decorations)
        if len(notations):
            element.append(notations)


def printed_length_divisor(notes: Iterable[Note | Rest]) -> int:
    """The least common multiple of the denominators of all that is printed."""
    divisor = 1
    for event in notes:
        for piece in printed_notes(event.length, event.tuplet):
            divisor = lcm(divisor, piece.length.denominator)
        divisor = lcm(divisor, event.length.denominator)
    return divisor


def _part_id(id_: str, piece: int, member: int) -> str:
    """The id of the written note stays with its first printed note."""
    return id_ + (f".t{piece + 1}" if piece else "") + (f".c{member + 1}" if member else "")


def _grace_beams(index: int, last: int, inside_beam: bool) -> tuple[tuple[int, str], ...]:
    """Beams of a group of grace notes.

    A lone one inside a beam of other notes gets a beam of its own, begun and ended at once:
    without it Verovio 6.4 overflows its coordinates where the grace note has a lyric.
    """
    if last == 0:
        return ((1, "begin"), (2, "end")) if inside_beam else ()
    shape = "begin" if index == 0 else "end" if index == last else "continue"
    return ((1, shape), (2, shape))


def _pitch(element: Element, pitch: Pitch) -> None:
    child = add(element, "pitch")
    add(child, "step", pitch.step)
    if pitch.alter:
        add(child, "alter", pitch.alter)
    add(child, "octave", pitch.octave)


def _type(element: Element, piece: Printed) -> None:
    add(element, "type", piece.type)
    for _ in range(piece.dots):
        add(element, "dot")


def _modification(element: Element, piece: Printed) -> None:
    if piece.modified:
        child = add(element, "time-modification")
        add(child, "actual-notes", piece.actual)
        add(child, "normal-notes", piece.normal)


def _lyric(element: Element, number: int, name: str | None, syllabic: str, text: str) -> Element:
    lyric = add(element, "lyric", number=number, name=name)
    add(lyric, "syllabic", syllabic)
    add(lyric, "text", text)
    return lyric


def _tuplet_ends(notations: Element, first: bool, last: bool) -> None:
    if first:
        # Above, away from the figures of the tab.
        add(notations, "tuplet", type="start", number=1, bracket="no", placement="above")
    if last:
        add(notations, "tuplet", type="stop", number=1)


def _decorations(notations: Element, decorations: Sequence[str]) -> None:
    for group, table in (
        ("ornaments", ORNAMENTS),
        ("technical", TECHNICAL),
        ("articulations", ARTICULATIONS),
    ):
        found = [table[name] for name in decorations if name in table]
        if group == "technical" and (fingers := [f for f in decorations if f in FINGERS]):
            parent = add(notations, group)
            for name in found:
                add(parent, name)
            for finger in fingers:
                add(parent, "fingering", finger)
        elif found:
            parent = add(notations, group)
            for name in dict.fromkeys(found):
                add(parent, name)
    _fermatas(notations, decorations)
    if "arpeggio" in decorations:
        add(notations, "arpeggiate")


def _fermatas(notations: Element, decorations: Sequence[str]) -> None:
    for name in decorations:
        if name in FERMATAS:
            add(notations, "fermata", type=FERMATAS[name])
