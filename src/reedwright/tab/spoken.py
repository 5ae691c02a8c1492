"""Tab to be listened to: plain text in whole words, for a screen reader or to be read aloud.

One line a bar, notes parted by commas: "Bar 3. six blow, six draw, seven blow crotchet."
The length is said only where it differs from the tune's commonest length (or from the dotted
pairs of a hornpipe), which the heading names. Repeats, endings and ties are said in words. No
symbols, and no figures but bar numbers.

Public: `spoken_tab`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from reedwright.harp.model import Sounding
from reedwright.harp.position import position, position_name
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.words import (
    AMERICAN,
    in_words,
    length_words,
    listed,
    meter_words,
    moved_words,
    number_word,
    ordinal_word,
    pitch_words,
    sounding_words,
    with_article,
)
from reedwright.tab.written import WrittenNote, lacking, written_notes
from reedwright.tune.model import Bar, BarLine, Change, Note, Rest
from reedwright.tune.writtenout import time_of

_DECORATIONS = {
    "roll": "with a roll",
    "trill": "with a trill",
    "turn": "with a turn",
    "mordent": "with a mordent",
    "lowermordent": "with a mordent",
    "uppermordent": "with an upper mordent",
    "pralltriller": "with an upper mordent",
    "fermata": "held at will",
    "invertedfermata": "held at will",
    "staccato": "short",
    "tenuto": "held full",
    "accent": "accented",
    "emphasis": "accented",
    "slide": "slid into",
    "breath": "then a breath",
}
_QUAVER = Fraction(1, 2)
_STEPS = {1: "cut from", -1: "tap on"}  # what a grace note is that lies so many holes on
_MARKS_BEFORE = {
    "segno": "The sign stands here.",
    "coda": "The coda begins here.",
}
_MARKS_AFTER = {
    "fine": "The tune ends here on the last time.",
    "tocoda": "On the last time go to the coda.",
    "dacapo": "Go back to the beginning.",
    "dalsegno": "Go back to the sign.",
    "dacapo al fine": "Go back to the beginning and play to the end mark.",
    "dacapo al coda": "Go back to the beginning, then go to the coda.",
    "dalsegno al fine": "Go back to the sign and play to the end mark.",
    "dalsegno al coda": "Go back to the sign, then go to the coda.",
}


def spoken_tab(arrangement: Arrangement) -> str:
    """The whole arrangement as text, ending with a newline."""
    usual = _usual(arrangement)
    lines = list(_heading(arrangement, usual))
    written = {entry.note.id: entry for entry in written_notes(arrangement)}
    bars = arrangement.tune.voices[arrangement.voice].bars
    parts: list[str] = []
    part_of: dict[str, str] = {}  # by a bar's first note, for its second time through
    for index, bar in enumerate(bars):
        first, time = time_of(next((note.id for note in bar.notes), f"bar {index}"))
        if _begins_part(bars, index):
            if first not in part_of:
                name = f"{_capital(ordinal_word(len(parts) + 1))} part"
                parts.append(f"Part {bar.part}" if bar.part else name)
            name = part_of.get(first, parts[-1])
            lines += ["", f"{name}." if time == 1 else f"{name}, {ordinal_word(time)} time."]
        part_of.setdefault(first, parts[-1])
        lines += _before(bar, bars[index - 1] if index else None)
        words = ", ".join(_events(arrangement, bar, written, usual))
        name = "Upbeat" if bar.number == 0 else f"Bar {bar.number}"
        if index and bars[index - 1].number == bar.number and bar.number and not bar.ending:
            name += ", second half"
        lines.append(f"{name}. {words or 'empty'}.")
        lines += _after(bar)
    lines += ["", "End of the tune."]
    return "\n".join(lines) + "\n"


def _heading(arrangement: Arrangement, usual: _Usual) -> Iterator[str]:
    tune, harp = arrangement.tune, arrangement.harp
    yield tune.title
    kind = _capital(tune.type) if tune.type else "Tune"
    key = "" if tune.key.mode == "none" else f" in {in_words(tune.key.name)}"
    yield f"{kind}{key}, {meter_words(tune.meter)}."
    for composer in tune.field_texts("C"):
        yield composer if composer.endswith(".") else f"{composer}."
    where = ""
    if tune.key.mode != "none":
        number = position(tune.key.tonic_pitch_class, harp)
        where = f", {position_name(number)} position"
    yield f"For {with_article(in_words(harp.name))}{where}."
    moved = moved_words(arrangement.octaves, arrangement.semitones, number_word)
    if moved:
        yield f"Moved {moved} from the pitch as written."
    yield f"Each note is said as hole and breath. {usual.words} unless another length is said."
    if arrangement.missing:
        pitches = sorted({pitch_words(missing.pitch) for missing in arrangement.missing})
        names = listed(pitches, "or")
        yield f"{lacking(arrangement)} {names}, said here as missing notes."


class _Usual(NamedTuple):
    """What need not be said: one length, or pairs of notes of which the first is the longer.

    `paired` are the ids of the notes of such pairs; then `length` is None.
    """

    length: Fraction | None
    paired: frozenset[str]
    words: str


def _usual(arrangement: Arrangement) -> _Usual:
    """The written length that most notes have, the longer of equals; or dotted pairs."""
    notes = [entry.note for entry in written_notes(arrangement)]
    counts = Counter(map(_face, notes))
    if not counts:
        return _Usual(_QUAVER, frozenset(), "Notes are quavers")
    pairs, longer = max(
        ((_dotted_pairs(arrangement, face), face) for face in counts),
        key=lambda found: (len(found[0]), found[1]),
    )
    if 2 * len(pairs) > len(notes):
        names = f"a {length_words(longer)} and a {length_words(longer / 3)}"
        return _Usual(None, pairs, f"Notes go in pairs, long then short, {names},")
    length = max(counts, key=lambda face: (counts[face], face))
    name = length_words(length)
    other = AMERICAN.get(name)
    words = f"Notes are {name}s" + (f", also called {other}s," if other else "")
    return _Usual(length, frozenset(), words)


def _dotted_pairs(arrangement: Arrangement, long: Fraction) -> frozenset[str]:
    """Ids of notes that stand as a note of this length and one of a third of it, side by side."""
    found: set[str] = set()
    for bar in arrangement.tune.voices[arrangement.voice].bars:
        events = [event for event in bar.events if not isinstance(event, Change)]
        for one, two in pairwise(events):
            if not (isinstance(one, Note) and isinstance(two, Note)) or one.id in found:
                continue
            if _face(one) == long == 3 * _face(two):
                found |= {one.id, two.id}
    return frozenset(found)


def _face(event: Note | Rest) -> Fraction:
    """The length that the note has on the page, a tuplet not applied."""
    if event.tuplet is None:
        return event.length
    return event.length * event.tuplet.actual / event.tuplet.normal


def _begins_part(bars: tuple[Bar, ...], index: int) -> bool:
    if index == 0 or bars[index].part is not None:
        return True
    bar, before = bars[index], bars[index - 1]
    if bar.ending or (index == 1 and before.number == 0):
        return False  # an ending belongs to its part, and so does the upbeat of the tune
    closed = before.closing in (BarLine.DOUBLE, BarLine.FINAL)
    return bar.repeat_open or before.repeat_close > 0 or closed


def _before(bar: Bar, previous: Bar | None) -> Iterator[str]:
    for mark in bar.marks:
        if mark in _MARKS_BEFORE:
            yield _MARKS_BEFORE[mark]
    if previous is not None and bar.key.name != previous.key.name:
        if bar.key.mode == "none":
            yield "From here no key is named."
        else:
            yield f"The key changes to {in_words(bar.key.name)}."
    if previous is not None and bar.meter.name != previous.meter.name:
        yield f"The metre changes to {meter_words(bar.meter)}."
    if bar.repeat_open:
        yield "The repeat begins here."
    if bar.ending:
        if len(bar.ending) == 1:
            yield f"{_capital(ordinal_word(bar.ending[0]))} ending."
        else:
            yield f"Ending for the {listed([ordinal_word(time) for time in bar.ending])} time."


def _after(bar: Bar) -> Iterator[str]:
    if bar.repeat_close == 2:
        yield "Repeat."
    elif bar.repeat_close > 2:
        yield f"Repeat, {number_word(bar.repeat_close)} times in all."
    for mark in bar.marks:
        if mark in _MARKS_AFTER:
            yield _MARKS_AFTER[mark]


def _events(
    arrangement: Arrangement, bar: Bar, written: dict[str, WrittenNote], usual: _Usual
) -> Iterator[str]:
    group: list[Note | Rest] = []
    for event in (event for event in bar.events if not isinstance(event, Change)):
        if group and (event.tuplet is None or event.tuplet.first):
            yield from (_event(arrangement, left, written, usual) for left in group)
            group = []  # nothing closed that tuplet
        if event.tuplet is None:
            yield _event(arrangement, event, written, usual)
            continue
        group.append(event)
        if event.tuplet.last:
            yield from _tuplet(arrangement, group, written, usual)
            group = []
    yield from (_event(arrangement, left, written, usual) for left in group)


def _tuplet(
    arrangement: Arrangement,
    group: list[Note | Rest],
    written: dict[str, WrittenNote],
    usual: _Usual,
) -> Iterator[str]:
    """`triplet of quavers`, then its notes; lengths only where they differ among themselves."""
    tuplet = group[0].tuplet
    actual = tuplet.actual if tuplet else len(group)
    name = "triplet" if actual == 3 else f"group of {number_word(actual)}"
    faces = {_face(event) for event in group}
    if len(faces) == 1:
        yield f"{name} of {length_words(*faces)}s"
        usual = usual._replace(length=faces.pop())
        yield from (_event(arrangement, event, written, usual) for event in group)
    else:
        yield name
        usual = _Usual(None, frozenset(), "")
        yield from (_event(arrangement, event, written, usual) for event in group)
        yield f"end of the {name}"


def _event(
    arrangement: Arrangement,
    event: Note | Rest,
    written: dict[str, WrittenNote],
    usual: _Usual,
) -> str:
    if isinstance(event, Note):
        return _note(arrangement, written[event.id], usual)
    return "whole bar rest" if event.whole_bar else "rest" + _length(event, usual)


def _note(arrangement: Arrangement, entry: WrittenNote, usual: _Usual) -> str:
    note = entry.note
    if entry.continues:
        words = "held" + (_length(note, usual) or f" {length_words(_face(note))}")
    else:
        words = _named(entry.sounding, note.pitch.name) + _length(note, usual)
    if note.graces:
        words += f" with {_graces(arrangement, entry)}"
    for decoration in note.decorations:
        if decoration in _DECORATIONS:
            words += f" {_DECORATIONS[decoration]}"
    if note.slurs_open:
        words += " slur begins"
    if note.slurs_close:
        words += " slur ends"
    if note.tied:
        words += " held on"
    return words


def _named(sounding: Sounding | None, pitch: str) -> str:
    return f"missing note {pitch_words(pitch)}" if sounding is None else sounding_words(sounding)


def _graces(arrangement: Arrangement, entry: WrittenNote) -> str:
    graces = entry.note.graces
    soundings = [arrangement.soundings.get(grace.id) for grace in graces]
    names = [
        _named(sounding, grace.pitch.name)
        for sounding, grace in zip(soundings, graces, strict=True)
    ]
    if len(graces) > 1:
        return f"quick grace notes {listed(names)}"
    step = _step(soundings[0], entry.sounding)
    return f"a quick {_STEPS.get(step, 'grace note')} {names[0]}"


def _step(grace: Sounding | None, main: Sounding | None) -> int:
    """Holes from a note to its grace note, 0 where they are not in one breath."""
    if grace is None or main is None or grace.breath is not main.breath:
        return 0
    return grace.hole - main.hole


def _length(event: Note | Rest, usual: _Usual) -> str:
    """` crotchet` where it is not the usual length, else nothing."""
    face = _face(event)
    if face == usual.length or event.id in usual.paired:
        return ""
    return f" {length_words(face)}".rstrip()


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
