"""What stands above or below the notes: words, tempo, dynamics, chord symbols, navigation."""

from __future__ import annotations

from fractions import Fraction
from xml.etree.ElementTree import Element

from reedwright.tune.model import Note, Rest, Tempo
from reedwright.tune.musicxml.lengths import printed_notes
from reedwright.tune.musicxml.signs import DYNAMICS, WEDGES, parse_chord
from reedwright.tune.musicxml.xml import add


def write_tempo(measure: Element, tempo: Tempo) -> None:
    """A metronome mark and its sound.

    A beat that no one note shows is left to the sound; so are words to the words.
    """
    speed = tempo.quarters_per_minute
    if speed is None and not tempo.text:
        return
    direction = add(measure, "direction", placement="above")
    if tempo.text:
        add(add(direction, "direction-type"), "words", tempo.text, font_weight="bold")
    if tempo.bpm is not None and speed is not None:
        pieces = printed_notes(tempo.beat)
        if len(pieces) == 1 and not pieces[0].modified:
            metronome = add(add(direction, "direction-type"), "metronome")
            add(metronome, "beat-unit", pieces[0].type)
            for _ in range(pieces[0].dots):
                add(metronome, "beat-unit-dot")
            add(metronome, "per-minute", _decimal(tempo.bpm))
        elif not tempo.text:
            add(add(direction, "direction-type"), "words", f"{_decimal(speed)} crotchets a minute")
        add(direction, "sound", tempo=_decimal(speed))


def write_words(
    measure: Element, text: str, placement: str = "above", italic: bool = False
) -> Element:
    direction = add(measure, "direction", placement=placement)
    style = "italic" if italic else None
    add(add(direction, "direction-type"), "words", text, font_style=style)
    return direction


def write_part_label(measure: Element, label: str) -> None:
    add(add(add(measure, "direction", placement="above"), "direction-type"), "rehearsal", label)


def write_opening_mark(measure: Element, mark: str) -> None:
    """Segno or coda: where a jump lands."""
    direction = add(measure, "direction", placement="above")
    add(add(direction, "direction-type"), mark)
    add(direction, "sound", **{mark: "1"})


def write_closing_mark(measure: Element, mark: str, fine: bool, coda: bool) -> None:
    """Fine, D.C., D.S. or To Coda. `fine`, `coda`: whether the tune has such a sign."""
    ending = " al Fine" if fine else " al Coda" if coda else ""
    words, sound = {
        "fine": ("Fine", {"fine": "yes"}),
        "dacapo": (f"D.C.{ending}", {"dacapo": "yes"}),
        "dalsegno": (f"D.S.{ending}", {"dalsegno": "1"}),
        "tocoda": ("To Coda", {"tocoda": "1"}),
    }[mark]
    add(write_words(measure, words, italic=True), "sound", **sound)


def write_before(measure: Element, event: Note | Rest) -> None:
    """All that stands at a note: chord symbol, annotations, dynamics, wedges."""
    if event.chord_symbol:
        _chord(measure, event.chord_symbol)
    for annotation in event.annotations:
        placement = "below" if annotation.where == "below" else "above"
        if annotation.text.strip():
            write_words(measure, annotation.text, placement)
    for name in event.decorations:
        if name in DYNAMICS:
            direction = add(measure, "direction", placement="below")
            add(add(add(direction, "direction-type"), "dynamics"), name)
        elif name in WEDGES:
            direction = add(measure, "direction", placement="below")
            add(add(direction, "direction-type"), "wedge", type=WEDGES[name])


def _chord(measure: Element, symbol: str) -> None:
    chord = parse_chord(symbol)
    if chord is None:
        write_words(measure, symbol)
        return
    harmony = add(measure, "harmony", placement="above")
    root = add(harmony, "root")
    add(root, "root-step", chord.root)
    if chord.alter:
        add(root, "root-alter", chord.alter)
    add(harmony, "kind", chord.kind, text=chord.text)
    if chord.bass:
        bass = add(harmony, "bass")
        add(bass, "bass-step", chord.bass)
        if chord.bass_alter:
            add(bass, "bass-alter", chord.bass_alter)


def _decimal(number: Fraction) -> str:
    return f"{float(number):.6f}".rstrip("0").rstrip(".")
