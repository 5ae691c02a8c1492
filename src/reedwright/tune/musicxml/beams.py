"""Beams: which quavers and shorter notes hang together.

Notes are joined within a window of the metre (half a bar in 4/4 and 2/2, a dotted
beat in compound time, the whole bar in 2/4, 3/4 and 3/8, each part of an additive
metre; common practice), and where the source joins some notes and not
others, only where it does. Rests and longer notes break a beam; so does the
edge of a tuplet.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from reedwright.tune.model import Meter

MOST_SHORT_NOTES = 4  # a beam with semiquavers holds no more; then it breaks at each beat


class Beamable(NamedTuple):
    """A printed note as beams see it. Onset and length in quarter notes of the bar.

    `flags` is 0 for a crotchet and longer, and for rests. `joined`: the source
    joins it to the next. `tuplet_first`, `tuplet_last`: edges of a tuplet.
    """

    onset: Fraction
    length: Fraction
    flags: int
    joined: bool
    tuplet_first: bool = False
    tuplet_last: bool = False


def beam_windows(meter: Meter) -> tuple[Fraction, ...]:
    """Lengths of the windows that a full bar falls into."""
    one = Fraction(4, meter.unit)
    if len(meter.beats) > 1:
        return tuple(one * count for count in meter.beats)
    beats = meter.beats[0] if meter.beats else 4
    if meter.compound and meter.unit >= 8:
        return (3 * one,) * (beats // 3)
    if beats == 4 or (meter.unit == 2 and beats % 2 == 0):
        return (beats * one / 2,) * 2
    return (beats * one,)


def beams(
    notes: Sequence[Beamable], meter: Meter, follow_source: bool
) -> list[tuple[tuple[int, str], ...]]:
    """For each note its beams: (1, "begin"), (2, "forward hook")...

    `follow_source`: whether `joined` means anything (a source without any
    joined notes has nothing to say).
    """
    result: list[tuple[tuple[int, str], ...]] = [()] * len(notes)
    for group in _groups(notes, meter, follow_source):
        for position, index in enumerate(group):
            result[index] = _levels(notes, group, position, meter)
    return result


def _groups(notes: Sequence[Beamable], meter: Meter, follow_source: bool) -> list[list[int]]:
    groups: list[list[int]] = []
    current: list[int] = []
    for index, note in enumerate(notes):
        joins = bool(current) and note.flags > 0
        if joins:
            before = notes[current[-1]]
            joins = (
                _window(before.onset, meter) == _window(note.onset, meter)
                and (before.joined or not follow_source)
                and not before.tuplet_last
                and not note.tuplet_first
            )
        if not joins:
            groups.append(current)
            current = []
        if note.flags:
            current.append(index)
    groups.append(current)
    split = [part for group in groups for part in _split(notes, group, meter)]
    return [group for group in split if len(group) > 1]


def _window(onset: Fraction, meter: Meter) -> tuple[int, int]:
    """Which window of which bar (free metre may be longer than one) holds this onset."""
    windows = beam_windows(meter)
    bar, rest = divmod(onset, sum(windows, Fraction(0)))
    for index, length in enumerate(windows):
        if rest < length:
            return int(bar), index
        rest -= length
    return int(bar), len(windows)


def _split(notes: Sequence[Beamable], group: list[int], meter: Meter) -> list[list[int]]:
    """At each beat, where many short notes would hang on one beam."""
    short = any(notes[index].flags > 1 for index in group)
    if not short or len(group) <= MOST_SHORT_NOTES:
        return [group]
    parts: list[list[int]] = []
    for index in group:
        beat = notes[index].onset // meter.beat_length
        if parts and notes[parts[-1][-1]].onset // meter.beat_length == beat:
            parts[-1].append(index)
        else:
            parts.append([index])
    return parts


def _levels(
    notes: Sequence[Beamable], group: list[int], position: int, meter: Meter
) -> tuple[tuple[int, str], ...]:
    note = notes[group[position]]
    found = []
    for level in range(1, note.flags + 1):
        before = position > 0 and _same_beam(
            notes, group[position - 1], group[position], level, meter
        )
        after = position + 1 < len(group) and _same_beam(
            notes, group[position], group[position + 1], level, meter
        )
        if before and after:
            shape = "continue"
        elif after:
            shape = "begin"
        elif before:
            shape = "end"
        else:
            shape = _hook(note, position, len(group), meter)
        found.append((level, shape))
    return tuple(found)


def _same_beam(notes: Sequence[Beamable], left: int, right: int, level: int, meter: Meter) -> bool:
    if min(notes[left].flags, notes[right].flags) < level:
        return False
    if level == 1:
        return True
    # Inner beams break at the beat, so that the beat shows.
    beat = meter.beat_length
    return notes[left].onset // beat == notes[right].onset // beat


def _hook(note: Beamable, position: int, size: int, meter: Meter) -> str:
    """A stub points to the note that it makes a beat with."""
    if position == 0:
        return "forward hook"
    if position == size - 1:
        return "backward hook"
    return "forward hook" if note.onset % meter.beat_length == 0 else "backward hook"
