"""What one setting of a tune has otherwise than another, in values and words.

Public: `Differing`, `BarsAlike`, `differing`, `differing_words`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.tune.likeness.once import SAMPLES
from reedwright.tune.likeness.sameness import Sameness, Stretch
from reedwright.tune.likeness.sketches import Sketch

WHOLE = 0.75  # of a tune, from which on all of it is said to be in the other
NOTE_BY_NOTE = 0.97  # agreement, from which on the notes are said to be the same
NEARLY = 0.85
NEAR_AN_END = 0.2  # of a tune: a stretch that begins there begins with it
_INTERVALS = (
    "", "a semitone", "a tone", "a minor third", "a major third", "a fourth", "a tritone",
    "a fifth", "a minor sixth", "a major sixth", "a minor seventh", "a major seventh",
)  # fmt: skip


class BarsAlike(NamedTuple):
    """Printed bars `first` to `last` of the one tune are bars `there_first` to `there_last` of the
    other."""

    first: int
    last: int
    there_first: int
    there_last: int


class Differing(NamedTuple):
    """How the second of two settings differs from the first.

    `semitones` higher, notes 2 ** `doublings` times as long; `agreement`, 0 to 1, of the stretches
    that are alike; `covered` and `covered_there`, the share of each tune that they make up;
    `reordered`: they stand in another order; `bars`: where they are, in the order of the first.
    """

    semitones: int
    doublings: int
    agreement: float
    covered: float
    covered_there: float
    reordered: bool
    bars: tuple[BarsAlike, ...]


def differing(ours: Sketch, theirs: Sketch, found: Sameness) -> Differing:
    """What the comparison of two sketches found, in the tunes' own bars."""
    stretches = sorted(found.stretches)
    slots = sum(each.last - each.first for each in stretches)
    agreed = sum((each.last - each.first) * each.agreement for each in stretches)
    begins = [SAMPLES * each.first + each.lag for each in stretches]
    return Differing(
        found.semitones,
        found.doublings,
        agreed / slots if slots else 0.0,
        *found.covered,
        begins != sorted(begins),
        tuple(_bars(ours, theirs, found, each) for each in stretches),
    )


def _bars(ours: Sketch, theirs: Sketch, found: Sameness, stretch: Stretch) -> BarsAlike:
    unit = ours.unit * 2.0**found.doublings
    begins = stretch.first + stretch.lag / SAMPLES
    ends = stretch.last + stretch.lag / SAMPLES
    return BarsAlike(
        _bar(ours, stretch.first * ours.unit),
        _bar(ours, (stretch.last - 0.5) * ours.unit),
        _bar(theirs, begins * unit),
        _bar(theirs, (ends - 0.5) * unit),
    )


def _bar(sketch: Sketch, time: float) -> int:
    """The printed bar at a time in quarter notes."""
    line = sketch.line
    place = int(line.onset.searchsorted(time + 1e-6, side="right")) - 1
    return int(line.bar[max(0, place)])


def differing_words(what: Differing) -> str:
    """In a few words: `nearly the same notes, a fourth lower, half as long`."""
    said = [_notes(what)]
    said += [each for each in (_moved(what.semitones), _lasting(what.doublings)) if each]
    if what.reordered:
        said.append("parts in another order")
    return ", ".join(said)


def _notes(what: Differing) -> str:
    if what.agreement >= NOTE_BY_NOTE:
        same = "the same notes"
    elif what.agreement >= NEARLY:
        same = "nearly the same notes"
    else:
        same = "a variant"
    here, there = what.covered >= WHOLE, what.covered_there >= WHOLE
    if here and there:
        return same
    if here:
        return f"{same}, all of the first is a part of the second ({_there(what)})"
    if there:
        return f"{same}, all of the second is a part of the first ({_here(what)})"
    return f"{same} in a part of both ({_both(what)})"


def _here(what: Differing) -> str:
    return " and ".join(_range(each.first, each.last) for each in what.bars)


def _there(what: Differing) -> str:
    ordered = sorted(what.bars, key=lambda each: each.there_first)
    return " and ".join(_range(each.there_first, each.there_last) for each in ordered)


def _both(what: Differing) -> str:
    return ", ".join(
        _range(each.first, each.last)
        if each[:2] == each[2:]
        else f"{_range(each.first, each.last)} as {_range(each.there_first, each.there_last)}"
        for each in what.bars
    )


def _range(first: int, last: int) -> str:
    return f"bar {first}" if first == last else f"bars {first} to {last}"


def _moved(semitones: int) -> str:
    """`a fourth lower`; nothing where they lie alike."""
    if not semitones:
        return ""
    octaves, rest = divmod(abs(semitones), 12)
    parts = []
    if octaves:
        parts.append("an octave" if octaves == 1 else f"{octaves} octaves")
    if rest:
        parts.append(_INTERVALS[rest])
    return f"{' and '.join(parts)} {'higher' if semitones > 0 else 'lower'}"


def _lasting(doublings: int) -> str:
    return f"notes {_TIMES[doublings]} as long" if doublings else ""


_TIMES = {-2: "a quarter", -1: "half", 1: "twice", 2: "four times"}
