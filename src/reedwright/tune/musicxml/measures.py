"""The bars of one voice as MusicXML measures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element

from reedwright.fifths import SHARP_ORDER, signature
from reedwright.tune.model import Bar, BarLine, Change, Event, Key, Meter, Note, Rest, Voice
from reedwright.tune.musicxml.accidentals import Accidentals
from reedwright.tune.musicxml.beams import Beamable, beams
from reedwright.tune.musicxml.directions import (
    write_before,
    write_closing_mark,
    write_opening_mark,
    write_part_label,
    write_tempo,
)
from reedwright.tune.musicxml.lengths import printed_notes
from reedwright.tune.musicxml.notes import Beams, NoteWriter, printed_length_divisor
from reedwright.tune.musicxml.spans import find_spans
from reedwright.tune.musicxml.xml import add
from reedwright.tune.rows import TabRow

BAR_STYLES = {
    BarLine.NONE: "none",
    BarLine.SINGLE: "regular",
    BarLine.DOUBLE: "light-light",
    BarLine.FINAL: "light-heavy",
    BarLine.OPENING: "heavy-light",
    BarLine.DOTTED: "dotted",
    BarLine.INVISIBLE: "none",
}
# Sign, line and octave change of each clef that ABC 2.1 names.
CLEFS = {
    "treble": ("G", 2, 0),
    "alto": ("C", 3, 0),
    "tenor": ("C", 4, 0),
    "bass": ("F", 4, 0),
    "perc": ("percussion", None, 0),
}
# Alterations of C D E F G A B in the signatures of the circle of fifths.


class MeasureWriter:
    """Writes the bars of one voice into a part."""

    def __init__(
        self,
        voice: Voice,
        divisions: int,
        rows: Sequence[TabRow],
    ) -> None:
        self._voice = voice
        self._divisions = divisions
        self._notes = NoteWriter(divisions, rows, find_spans(voice_events(voice)))
        self._follow_source = any(note.beamed for note in voice.notes)
        marks = {mark for bar in voice.bars for mark in bar.marks}
        self._fine, self._coda = "fine" in marks, bool(marks & {"coda", "tocoda"})
        self._key: Key | None = None
        self._meter: Meter | None = None
        self._ending: tuple[int, ...] = ()

    def write(self, part: Element, first: Sequence[Change] = ()) -> None:
        """All bars. `first`: changes to write at the very start (the tune's tempo)."""
        before: Bar | None = None
        for bar in self._voice.bars:
            measure = self._open_measure(part, bar, before)
            self._left_bar_line(measure, bar)
            self._attributes(measure, bar.key, bar.meter, first=before is None)
            if before is None:
                for change in first:
                    if change.tempo:
                        write_tempo(measure, change.tempo)
            if bar.part and bar.part.strip():
                write_part_label(measure, bar.part)
            for mark in bar.marks:
                if mark in ("segno", "coda"):
                    write_opening_mark(measure, mark)
            start = _offset_in_bar(bar, before)
            state = Accidentals(bar.key)
            self._layer(measure, bar, bar.events, start, state, 1)
            for number, overlay in enumerate(bar.overlays, start=2):
                self._backup(measure, bar.length if number == 2 else _sum(bar.overlays[number - 3]))
                self._layer(measure, bar, overlay, start, state, number)
            for mark in bar.marks:
                if mark not in ("segno", "coda"):
                    write_closing_mark(measure, mark, self._fine, self._coda)
            self._right_bar_line(measure, bar)
            before = bar

    def _open_measure(self, part: Element, bar: Bar, before: Bar | None) -> Element:
        """Numbers are unique; what is not counted has an `X` number and is implicit."""
        rest_of_cut = before is not None and before.number == bar.number
        if bar.number == 0 and before is None:
            return add(part, "measure", number=0, implicit="yes")
        if rest_of_cut or bar.number == 0:
            return add(part, "measure", number=f"X{bar.index}", implicit="yes")
        return add(part, "measure", number=bar.number)

    def _attributes(self, measure: Element, key: Key, meter: Meter, first: bool = False) -> None:
        new_key, new_meter = key != self._key, meter != self._meter
        if not (first or new_key or new_meter):
            return
        attributes = add(measure, "attributes")
        if first:
            add(attributes, "divisions", self._divisions)
        if new_key:
            _write_key(attributes, key)
        if new_meter:
            _write_meter(attributes, meter)
        if first or (new_key and self._key is not None and key.clef != self._key.clef):
            _write_clef(attributes, key.clef)
        self._key, self._meter = key, meter

    def _layer(
        self,
        measure: Element,
        bar: Bar,
        events: Sequence[Event],
        start: Fraction,
        state: Accidentals,
        voice: int,
    ) -> None:
        shapes = iter(self._beams(bar, events, start))
        for event in events:
            if isinstance(event, Change):
                self._change(measure, event, state)
                continue
            write_before(measure, event)
            count = len(printed_notes(event.length, event.tuplet))
            own = [next(shapes) for _ in range(count)]
            if isinstance(event, Note):
                self._notes.note(measure, event, state, own, voice)
            else:
                self._notes.rest(measure, event, voice)

    def _change(self, measure: Element, change: Change, state: Accidentals) -> None:
        assert self._key is not None and self._meter is not None
        self._attributes(measure, change.key or self._key, change.meter or self._meter)
        if change.key:
            state.change_key(change.key)
        if change.tempo:
            write_tempo(measure, change.tempo)

    def _beams(self, bar: Bar, events: Sequence[Event], start: Fraction) -> list[Beams]:
        notes = []
        onset = start
        for event in events:
            if isinstance(event, Change):
                continue
            pieces = printed_notes(event.length, event.tuplet)
            for index, piece in enumerate(pieces):
                last = index == len(pieces) - 1
                sounds = isinstance(event, Note)
                notes.append(
                    Beamable(
                        onset,
                        piece.length,
                        piece.flags if sounds else 0,
                        not last or (isinstance(event, Note) and event.beamed),
                        bool(event.tuplet and event.tuplet.first and index == 0),
                        bool(event.tuplet and event.tuplet.last and last),
                    )
                )
                onset += piece.length
        return list(beams(notes, bar.meter, self._follow_source))

    def _backup(self, measure: Element, length: Fraction) -> None:
        if length:
            add(add(measure, "backup"), "duration", length * self._divisions)

    def _left_bar_line(self, measure: Element, bar: Bar) -> None:
        opening = bar.opening if bar.opening is not BarLine.SINGLE else BarLine.NONE
        if not bar.repeat_open and not bar.ending and opening is BarLine.NONE:
            return
        line = add(measure, "barline", location="left")
        if bar.repeat_open:
            add(line, "bar-style", "heavy-light")
        elif opening is not BarLine.NONE:
            add(line, "bar-style", BAR_STYLES[opening])
        if bar.ending:
            self._ending = bar.ending
            add(line, "ending", _ending_text(bar.ending), number=_passes(bar.ending), type="start")
        if bar.repeat_open:
            add(line, "repeat", direction="forward")

    def _right_bar_line(self, measure: Element, bar: Bar) -> None:
        ends = bool(self._ending) and bar.ending_last
        if bar.closing is BarLine.SINGLE and not bar.repeat_close and not ends:
            return
        line = add(measure, "barline", location="right")
        add(line, "bar-style", "light-heavy" if bar.repeat_close else BAR_STYLES[bar.closing])
        if ends:
            closed = bar.repeat_close or bar.closing in (BarLine.DOUBLE, BarLine.FINAL)
            kind = "stop" if closed else "discontinue"
            add(line, "ending", number=_passes(self._ending), type=kind)
            self._ending = ()
        if bar.repeat_close:
            times = bar.repeat_close if bar.repeat_close > 2 else None
            add(line, "repeat", direction="backward", times=times)


def voice_events(voice: Voice) -> Iterator[Event]:
    """Notes, rests and changes of a voice in order, overlays apart."""
    return (event for bar in voice.bars for event in bar.events)


def voice_divisions(voice: Voice) -> int:
    """Units in a quarter note that show every length of the voice exactly."""
    layers = [layer for bar in voice.bars for layer in (bar.events, *bar.overlays)]
    return printed_length_divisor(
        event for layer in layers for event in layer if not isinstance(event, Change)
    )


def _offset_in_bar(bar: Bar, before: Bar | None) -> Fraction:
    """Where in the metre the bar begins: later than 0 for an upbeat or the rest of a cut bar."""
    full = bar.meter.bar_length
    if full is None or bar.length >= full:
        return Fraction(0)
    if bar.number == 0:
        return full - bar.length
    if before is not None and before.number == bar.number:
        return before.length % full
    return Fraction(0)


def _sum(events: Sequence[Event]) -> Fraction:
    return sum((e.length for e in events if isinstance(e, Note | Rest)), Fraction(0))


def _passes(ending: tuple[int, ...]) -> str:
    return ",".join(map(str, ending))


def _ending_text(ending: tuple[int, ...]) -> str:
    return ", ".join(map(str, ending)) + "."


def _write_key(attributes: Element, key: Key) -> None:
    element = add(attributes, "key")
    if abs(key.fifths) <= len(SHARP_ORDER) and key.accidentals == signature(key.fifths):
        add(element, "fifths", key.fifths)
        add(element, "mode", "none" if key.mode == "highland" else key.mode)
        return
    for step in SHARP_ORDER:
        if key.alteration(step):
            add(element, "key-step", step)
            add(element, "key-alter", key.alteration(step))
    if not any(key.accidentals):
        add(element, "fifths", 0)


def _write_meter(attributes: Element, meter: Meter) -> None:
    symbol = {"C": "common", "C|": "cut"}.get(meter.symbol or "")
    time = add(attributes, "time", symbol=symbol)
    if meter.free:
        add(time, "senza-misura")
    else:
        add(time, "beats", "+".join(map(str, meter.beats)))
        add(time, "beat-type", meter.unit)


def _write_clef(attributes: Element, name: str) -> None:
    plain, change = name, 0
    for suffix, octaves in (("-8", -1), ("+8", 1), ("-15", -2), ("+15", 2)):
        if name.endswith(suffix):
            plain, change = name.removesuffix(suffix), octaves
    sign, line, _ = CLEFS.get(plain, CLEFS["treble"])
    clef = add(attributes, "clef")
    add(clef, "sign", sign)
    if line is not None:
        add(clef, "line", line)
    if change:
        add(clef, "clef-octave-change", change)
