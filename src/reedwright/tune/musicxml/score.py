"""A tune as a MusicXML document: header, parts, bytes that never differ."""

from __future__ import annotations

from collections.abc import Sequence
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import reedwright
from reedwright.tune.model import Change, Tune, Voice
from reedwright.tune.musicxml.measures import MeasureWriter, voice_divisions
from reedwright.tune.musicxml.xml import add
from reedwright.tune.rights import rights_line
from reedwright.tune.rows import TabRow

DOCTYPE = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">\n'
)
HARMONICA_PROGRAM = 23  # General MIDI level 1, counted from 1

# Header fields of ABC 2.1 that have no element of their own, by a name for people.
_KEPT_FIELDS = {
    "O": "origin",
    "A": "area",
    "R": "rhythm",
    "B": "book",
    "D": "discography",
    "H": "history",
    "N": "notes",
    "G": "group",
    "F": "file",
    "P": "parts",
}


def write_musicxml(
    tune: Tune,
    rows: Sequence[TabRow] = (),
    *,
    voices: Sequence[int] | None = None,
) -> str:
    """The tune as a MusicXML 4.0 partwise document.

    Parameters
    ----------
    rows: rows of text under the notes, the first verses; lyrics of the tune follow.
    voices: indices of the voices to write, each as a part; all of them unless given.

    Ids of notes, grace notes and rests are those of the model. The text has no date,
    so the same tune gives the same document.
    """
    chosen = [tune.voices[i] for i in (range(len(tune.voices)) if voices is None else voices)]
    root = Element("score-partwise", {"version": "4.0"})
    work = add(root, "work")
    if tune.number:
        add(work, "work-number", tune.number)
    add(work, "work-title", tune.title)
    _identification(root, tune)
    parts = add(root, "part-list")
    for number, voice in enumerate(chosen, start=1):
        _score_part(parts, f"P{number}", voice)
    for number, voice in enumerate(chosen, start=1):
        part = add(root, "part", id=f"P{number}")
        first = (Change(tune.voices[0].bars[0].place, tempo=tune.tempo),) if tune.tempo else ()
        writer = MeasureWriter(voice, voice_divisions(voice), rows)
        writer.write(part, first if number == 1 else ())
        if not len(part):  # the schema wants a measure
            add(part, "measure", number=1)
    ElementTree.indent(root)
    return DOCTYPE + ElementTree.tostring(root, encoding="unicode") + "\n"


def _identification(root: Element, tune: Tune) -> None:
    element = add(root, "identification")
    for composer in tune.field_texts("C"):
        add(element, "creator", composer, type="composer")
    rights = rights_line(tune)
    if rights:
        add(element, "rights", rights)
    encoding = add(element, "encoding")
    add(encoding, "software", f"Reedwright {reedwright.__version__}")
    for name in ("accidental", "beam"):
        add(encoding, "supports", element=name, type="yes")
    sources = tune.field_texts("S")
    if sources:
        add(element, "source", "; ".join(sources))
    kept = [("title", title) for title in tune.titles[1:]]
    kept += [(_KEPT_FIELDS[f.code], f.text) for f in tune.fields if f.code in _KEPT_FIELDS]
    if kept:
        miscellaneous = add(element, "miscellaneous")
        for name, text in kept:
            add(miscellaneous, "miscellaneous-field", text, name=name)


def _score_part(parts: Element, id_: str, voice: Voice) -> None:
    part = add(parts, "score-part", id=id_)
    add(part, "part-name", voice.title or "Melody", print_object="no")
    instrument = add(part, "score-instrument", id=f"{id_}-I1")
    add(instrument, "instrument-name", "Harmonica")
    midi = add(part, "midi-instrument", id=f"{id_}-I1")
    add(midi, "midi-channel", 1)
    add(midi, "midi-program", HARMONICA_PROGRAM)
