"""Pointing at a note: `3:2` is bar 3 beat 2, `B1:2.5` bar 1 of part B, `3:2:B4` names the pitch.

Public: `note_at`, `parse_point`, `Point`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from reedwright.tab.choices.model import ChoicesError, beat_text
from reedwright.tab.choices.pitches import is_pitch, midi_of
from reedwright.tab.choices.places import Placed
from reedwright.tab.words import listed

HELP = (
    "write bar:beat with the printed bar, such as 3:2.5, or part, its bar and the beat, "
    "such as B1:2"
)
CLOSE_ENOUGH = Fraction(1, 50)
"""Beats: so that 1.33 finds a third of a beat."""

_POINT = re.compile(
    r"(?:(?P<part>[^\d\s:][^\d:]*?)\s*)?(?P<bar>\d+)\s*:\s*(?P<beat>[\d.,/]+)\s*(?::\s*(?P<pitch>\S+))?"
)


class Point(NamedTuple):
    """What was pointed at. `part` is empty for a printed bar, `pitch` where none was named."""

    part: str
    bar: int
    beat: Fraction
    pitch: str


def parse_point(text: str) -> Point:
    """Raises `ChoicesError`."""
    match = _POINT.fullmatch(text.strip())
    if match is None:
        raise ChoicesError(f"'{text}' does not point at a note; {HELP}")
    try:
        beat = Fraction(match["beat"].replace(",", "."))
    except (ValueError, ZeroDivisionError):
        raise ChoicesError(f"'{text}': '{match['beat']}' is not a beat; {HELP}") from None
    pitch = match["pitch"] or ""
    if pitch:
        pitch = pitch[0].upper() + pitch[1:]
        if not is_pitch(pitch):
            raise ChoicesError(f"'{text}': '{pitch}' is not a note name such as F#4")
    return Point(match["part"] or "", int(match["bar"]), beat, pitch)


def note_at(notes: Sequence[Placed], text: str) -> Placed:
    """The one note that is pointed at. Raises `ChoicesError` saying what there is instead."""
    point = parse_point(text)
    in_part = [note for note in notes if _part(note, point)]
    if point.part and not in_part:
        parts = list(dict.fromkeys(note.place.part for note in notes))
        raise ChoicesError(f"'{text}': there is no part {point.part}; there are {listed(parts)}")
    in_bar = [note for note in in_part if _bar(note, point) == point.bar]
    if not in_bar:
        bars = sorted({_bar(note, point) for note in in_part})
        there = f"bars {bars[0]} to {bars[-1]} have notes" if bars else "the tune has no notes"
        raise ChoicesError(f"'{text}': no note stands in bar {point.bar}; {there}")
    found = [
        note
        for note in in_bar
        if abs(note.place.beat - point.beat) <= CLOSE_ENOUGH
        and (not point.pitch or note.midi == midi_of(point.pitch))
    ]
    if not found:
        there = ", ".join(f"{beat_text(note.place.beat)} {note.place.pitch}" for note in in_bar)
        raise ChoicesError(
            f"'{text}': no {point.pitch or 'note'} begins there; "
            f"bar {point.bar} has, by beat, {there}"
        )
    if len(found) > 1:
        pitches = listed(list(dict.fromkeys(note.place.pitch for note in found)), "or")
        raise ChoicesError(f"'{text}' could be several notes; add the pitch, {text}:{pitches}")
    return found[0]


def _part(note: Placed, point: Point) -> bool:
    return not point.part or note.place.part.casefold() == point.part.casefold()


def _bar(note: Placed, point: Point) -> int:
    return note.place.bar if point.part else note.bar
