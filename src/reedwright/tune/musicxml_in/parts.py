"""A `part` read measure by measure into voices."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from reedwright.tune.model import (
    Annotation,
    Change,
    Grace,
    Key,
    Meter,
    Pitch,
    Place,
    Problem,
    Severity,
    Tempo,
    Voice,
)
from reedwright.tune.musicxml.signs import DYNAMICS
from reedwright.tune.musicxml_in import notes
from reedwright.tune.musicxml_in.attributes import (
    number,
    read_clef,
    read_key,
    read_meter,
    read_metronome,
    read_transposition,
    text_of,
)
from reedwright.tune.musicxml_in.drafts import EventDraft, MeasureDraft
from reedwright.tune.musicxml_in.signs_in import mark_in_words, read_barline, sound_marks

VoiceName = tuple[str, str]  # staff, voice


class PartReader:
    """Reads one part. Afterwards `voices`, `key`, `meter`, `tempo`, `problems` hold what came."""

    def __init__(self, part: Element, title: str, note_places: Iterator[Place], ids: str) -> None:
        self.key = Key()
        self.meter = Meter()
        self.tempo: Tempo | None = None
        self.transposition = 0
        self.problems: list[Problem] = []
        self._title = title
        self._places = note_places
        self._ids = ids
        self._count = 0
        self._divisions = Fraction(1)
        self._number = 0
        self._place = Place(1, 1)
        self._now_key, self._now_meter = self.key, self.meter
        self._graces: dict[VoiceName, list[Grace]] = {}
        self._slashed = False
        self._grace_slurs: dict[VoiceName, int] = {}
        self._pending = _Pending()
        self._told: set[str] = set()
        self._measures: list[MeasureDraft] = []
        for measure in part.findall("measure"):
            self._read_measure(measure)
        if self._measures:
            self._measures[-1].line_end = True
        self.voices = self._voices()

    def _read_measure(self, element: Element) -> None:
        first = not self._measures
        measure = MeasureDraft(
            self._next_number(element, first), self._now_key, self._now_meter, self._place
        )
        self._measures.append(measure)
        now = Fraction(0)
        last: EventDraft | None = None
        for child in element:
            if child.tag == "note":
                now, last = self._read_note(child, measure, now, last)
            elif child.tag in ("backup", "forward"):
                step = self._duration(child)
                now = max(Fraction(0), now - step) if child.tag == "backup" else now + step
            elif child.tag == "attributes":
                self._read_attributes(child, measure, now, first)
            elif child.tag == "direction":
                self._read_direction(child, measure, now, first)
            elif child.tag == "sound":
                self._read_sound(child, measure, now, first)
            elif child.tag == "harmony":
                self._pending.chord_symbol = notes.chord_symbol(child)
            elif child.tag == "barline":
                read_barline(child, measure, at_end=now > 0)
            elif child.tag == "print" and not first and _breaks_line(child):
                self._measures[-2].line_end = True
            measure.length = max(measure.length, now)
        self._check_length(measure)

    def _next_number(self, element: Element, first: bool) -> int:
        """The printed number: 0 for an anacrusis, the last one again for a bar cut in two."""
        text = element.get("number", "")
        if first:
            counts = element.get("implicit") != "yes" and text != "0"
            self._number = (int(text) if text.isdecimal() and len(text) < 6 else 1) if counts else 0
        elif element.get("implicit") != "yes":
            self._number = int(text) if text.isdecimal() and len(text) < 6 else self._number + 1
        return self._number

    def _duration(self, element: Element) -> Fraction:
        value = number(text_of(element, "duration"), Fraction(0)) or Fraction(0)
        return max(Fraction(0), value) / self._divisions

    def _read_note(
        self, element: Element, measure: MeasureDraft, now: Fraction, last: EventDraft | None
    ) -> tuple[Fraction, EventDraft | None]:
        place = self._place = next(self._places, self._place)
        if not measure.voices:
            measure.place = place
        voice = text_of(element, "staff", "1"), text_of(element, "voice", "1")
        pitch_element = element.find("pitch")
        pitch = None if pitch_element is None else notes.read_pitch(pitch_element)
        if pitch_element is not None and notes.microtonal(pitch_element):
            self._tell("a pitch between semitones is taken as the nearest semitone", place)
        if pitch is None and element.find("rest") is None:
            self._tell("a note without a pitch that we know is read as silence", place)
        if element.find("grace") is not None:
            if pitch is not None:
                self._add_grace(element, voice, pitch, place)
            return now, last
        if element.find("chord") is not None and last is not None:
            if pitch is not None and last.pitches and pitch not in last.pitches:
                last.pitches.append(pitch)
                last.ties.append(notes.starts_tie(element))
            return now, last
        self._count += 1
        draft = EventDraft(
            f"{self._ids}{'n' if pitch else 'r'}{self._count}",
            element,
            now,
            self._duration(element),
            place,
        )
        if element.find("cue") is not None:
            draft.silent = True  # cue notes are read, not played
        elif pitch is not None:
            draft.pitches, draft.ties = [pitch], [notes.starts_tie(element)]
            graces = self._graces.pop(voice, [])
            draft.graces = [
                replace(grace, id=f"{draft.id}g{n}") for n, grace in enumerate(graces, start=1)
            ]
            draft.slashed = self._slashed and bool(graces)
            draft.slurs_open = max(0, self._grace_slurs.pop(voice, 0))
        self._pending.give(draft)
        drafts = measure.voices.setdefault(voice, [])
        if drafts and now < drafts[-1].position + drafts[-1].length:
            self._tell("a note overlaps the one before it in its voice and is left out", place)
            return now + draft.length, last
        drafts.append(draft)
        return now + draft.length, draft

    def _add_grace(self, element: Element, voice: VoiceName, pitch: Pitch, place: Place) -> None:
        grace = element.find("grace")
        self._slashed = grace is not None and grace.get("slash") == "yes"
        opened, closed = notes.slurs(element)
        self._grace_slurs[voice] = self._grace_slurs.get(voice, 0) + opened - closed
        length = notes.type_length(element) or notes.GRACE_LENGTH
        self._graces.setdefault(voice, []).append(Grace("", pitch, length, place))

    def _read_attributes(
        self, element: Element, measure: MeasureDraft, now: Fraction, first: bool
    ) -> None:
        divisions = number(text_of(element, "divisions"))
        if divisions is not None and divisions > 0:
            self._divisions = divisions
        key, meter = self._now_key, self._now_meter
        for child in element:
            if child.tag == "key" and child.get("number", "1") == "1":
                key = read_key(child, key)
            elif child.tag == "time" and child.get("number", "1") == "1":
                meter = read_meter(child, meter)
            elif child.tag == "clef" and child.get("number", "1") == "1":
                key = read_clef(child, key)
            elif child.tag == "transpose" and first:
                self.transposition = read_transposition(child)
        changed_key = key if key != self._now_key else None
        changed_meter = meter if meter != self._now_meter else None
        self._now_key, self._now_meter = key, meter
        if first and now == 0:
            self.key, self.meter = key, meter
        if now == 0:
            measure.key, measure.meter = key, meter
        elif changed_key or changed_meter:
            measure.changes.append((now, Change(self._place, changed_key, changed_meter)))

    def _read_direction(
        self, element: Element, measure: MeasureDraft, now: Fraction, first: bool
    ) -> None:
        sound = element.find("sound")
        marks = sound_marks(sound)
        words: list[str] = []
        tempo: Tempo | None = None
        for kind in element.iter("direction-type"):
            for child in kind:
                text = (child.text or "").strip()
                if child.tag == "words" and text:
                    mark = mark_in_words(text)
                    if mark is None:
                        words.append(text)
                    else:
                        marks.append(mark)
                elif child.tag in ("segno", "coda"):
                    # A coda sign with the sound of a jump is where one leaves for the coda.
                    if "tocoda" not in marks or child.tag == "segno":
                        marks.append(child.tag)
                elif child.tag == "rehearsal" and text:
                    measure.part = text
                elif child.tag == "metronome":
                    tempo = read_metronome(child)
                elif child.tag == "dynamics":
                    self._pending.decorations += [s.tag for s in child if s.tag in DYNAMICS]
        measure.marks += marks
        speed = number(sound.get("tempo")) if sound is not None else None
        if tempo is None and speed is not None and speed > 0:
            tempo = Tempo(Fraction(1), speed)
        if tempo is not None:
            self._set_tempo(replace(tempo, text=" ".join(words)), measure, now, first)
        else:
            where = "below" if element.get("placement") == "below" else "above"
            self._pending.annotations += [Annotation(where, text) for text in words]

    def _read_sound(
        self, element: Element, measure: MeasureDraft, now: Fraction, first: bool
    ) -> None:
        measure.marks += sound_marks(element)
        speed = number(element.get("tempo"))
        if speed is not None and speed > 0:
            self._set_tempo(Tempo(Fraction(1), speed), measure, now, first)

    def _set_tempo(self, tempo: Tempo, measure: MeasureDraft, now: Fraction, first: bool) -> None:
        if first and now == 0:
            if self.tempo is None:
                self.tempo = tempo
        else:
            measure.changes.append((now, Change(self._place, tempo=tempo)))

    def _check_length(self, measure: MeasureDraft) -> None:
        full = measure.meter.bar_length
        if full is not None and measure.length > full and not measure.changes:
            self.problems.append(
                Problem(
                    Severity.WARNING,
                    f"this bar is {float(measure.length / full):.4g} bars long by its metre",
                    measure.place,
                    measure.number,
                )
            )

    def _tell(self, message: str, place: Place) -> None:
        """A problem, told once a part."""
        if message not in self._told:
            self._told.add(message)
            self.problems.append(Problem(Severity.REPAIRED, message, place, self._number))

    def _voices(self) -> list[Voice]:
        """Every voice with a note. One that comes up in few bars is laid over its staff's first."""
        sounding: dict[VoiceName, int] = {}
        for measure in self._measures:
            for name, drafts in measure.voices.items():
                count = any(draft.pitches for draft in drafts)
                sounding[name] = sounding.get(name, 0) + count
        staves: dict[str, list[VoiceName]] = {}
        for name in sorted((n for n, count in sounding.items() if count), key=_voice_order):
            staves.setdefault(name[0], []).append(name)
        voices: list[Voice] = []
        for names in staves.values():
            leading, *others = names
            overlaid = [n for n in others if 2 * sounding[n] < sounding[leading]]
            own = [leading, *(n for n in others if n not in overlaid)]
            for name in own:
                layers = overlaid if name == leading else []
                bars = tuple(
                    measure.bar(index, name, layers, f"{self._ids}v{len(voices)}")
                    for index, measure in enumerate(self._measures)
                )
                voices.append(Voice("", bars, self._title))
        return voices


class _Pending:
    """What stands before the note that it belongs to."""

    def __init__(self) -> None:
        self.chord_symbol = ""
        self.annotations: list[Annotation] = []
        self.decorations: list[str] = []

    def give(self, draft: EventDraft) -> None:
        draft.chord_symbol, self.chord_symbol = self.chord_symbol, ""
        draft.annotations, self.annotations = self.annotations, []
        draft.decorations, self.decorations = self.decorations, []


def _breaks_line(element: Element) -> bool:
    return "yes" in (element.get("new-system"), element.get("new-page"))


def _voice_order(name: VoiceName) -> tuple[int, ...]:
    return tuple(int(text) if text.isdecimal() and len(text) < 6 else 0 for text in name)
