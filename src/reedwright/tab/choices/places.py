"""Where every written note stands: part, bar in the part, beat, pitch, and its neighbours.

Parts
-----
A part begins where a repeat begins or ended, after a double or final bar line, and at a part
label (`P:`); variant endings belong to the part before them. What is shorter than two bars
(an upbeat) goes with the part that follows, after the last part with that. A labelled part
has its label, the others take A, B, C and so on in written order, passing over the letters
that labels use. A label that stands twice gets a prime, `A'`.

Bars are counted within the part, so that a bar added in A moves nothing in B. Bar 0 is the
part's upbeat: what stands before its first full bar, also where the bar before the repeat sign
and the upbeat are one printed bar cut in two.

Public: `Placed`, `note_places`.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import NamedTuple

from reedwright.tab.choices.model import NotePlace
from reedwright.tune.model import Bar, BarLine, Note, Tune
from reedwright.tune.unfold import written_beats

SHORTEST_PART_BARS = 2
"""As for the form of a tune (`tune.form`)."""
_SECTION_ENDS = (BarLine.DOUBLE, BarLine.FINAL)
NOTHING = "-"
"""Stands in `between` where a tune begins or ends."""


class Placed(NamedTuple):
    """A written note and its place. `bar` is the printed number, `midi` as written."""

    id: str
    place: NotePlace
    midi: int
    bar: int


def note_places(tune: Tune, voice: int = 0) -> tuple[Placed, ...]:
    """Every note of a voice in written order; none for a voice that is not there."""
    if not 0 <= voice < len(tune.voices):
        return ()
    beats = written_beats(tune, voice)
    found: list[tuple[Bar, str, int, Note]] = []
    for name, bars in _parts(tune.voices[voice].bars):
        for bar, number in _numbered(bars):
            found += [(bar, name, number, note) for note in bar.notes]
    names = [NOTHING, *(note.pitch.name for _, _, _, note in found), NOTHING]
    return tuple(
        Placed(
            note.id,
            NotePlace(
                part, number, beats[note.id], note.pitch.name, f"{names[at]} {names[at + 2]}"
            ),
            note.pitch.midi,
            bar.number,
        )
        for at, (bar, part, number, note) in enumerate(found)
    )


def _parts(bars: tuple[Bar, ...]) -> list[tuple[str, tuple[Bar, ...]]]:
    sections: list[tuple[Bar, ...]] = []
    pending: tuple[Bar, ...] = ()
    for section in _cut(bars):
        pending += section
        if not _short(pending):
            sections.append(pending)
            pending = ()
    if pending and sections:
        sections[-1] += pending
    elif pending:
        sections.append(pending)
    labels = [_label(section) for section in sections]
    letters = _letters({label for label in labels if label})
    named: list[str] = []
    for label in labels:
        name = label or next(letters)
        while name in named:
            name += "'"
        named.append(name)
    return list(zip(named, sections, strict=True))


def _cut(bars: tuple[Bar, ...]) -> Iterator[tuple[Bar, ...]]:
    start = 0
    for at in range(1, len(bars)):
        before, here = bars[at - 1], bars[at]
        ended = before.repeat_close > 0 or before.closing in _SECTION_ENDS
        goes_on = bool(here.ending) and 1 not in here.ending  # a further ending of the same part
        if here.part is not None or here.repeat_open or (ended and not goes_on):
            yield bars[start:at]
            start = at
    if bars:
        yield bars[start:]


def _short(bars: tuple[Bar, ...]) -> bool:
    full = bars[0].meter.bar_length
    if full is None:
        return len(bars) < SHORTEST_PART_BARS
    return sum((bar.length for bar in bars), Fraction(0)) < SHORTEST_PART_BARS * full


def _label(bars: tuple[Bar, ...]) -> str:
    """The part's label, also where an upbeat stands before the bar that has it."""
    return next((bar.part for bar in bars if bar.part is not None), "")


def _letters(taken: set[str]) -> Iterator[str]:
    """A, B ... Z, AA, AB and so on, without those that labels use."""
    count = 0
    while True:
        letters, rest = "", count
        while True:
            letters = chr(ord("A") + rest % 26) + letters
            rest = rest // 26 - 1
            if rest < 0:
                break
        if letters not in taken:
            yield letters
        count += 1


def _numbered(bars: tuple[Bar, ...]) -> Iterator[tuple[Bar, int]]:
    """Bars of a part with their number in it; pieces of one printed bar share it."""
    number, printed = 0, None
    for at, bar in enumerate(bars):
        full = bar.meter.bar_length
        cut = full is not None and bar.length < full and len(bars) > 1
        if at == 0 and cut and (bar.number == 0 or bars[1].number != bar.number):
            printed = bar.number  # the upbeat: the number stays 0
        elif bar.number != printed:
            number, printed = number + 1, bar.number
        yield bar, number
