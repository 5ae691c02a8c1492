"""What each stretch of a take is: the tune, false starts, something else, silence.

Public: `make_passages`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from reedwright.sound.hearing.model import Heard
from reedwright.takes.following.music import Broken
from reedwright.takes.model import Passage, PassageKind

REST = 2.5  # seconds without a note within the tune that are only a rest
STRAY_NOTES = 2  # notes in a gap of that length that are only added notes
QUIET_DB = (
    15.0  # so far under the playing, a stretch is silence (noise is often at 20; our own choice)
)
LOUD_SHARE = 0.15  # of a stretch that must be louder to be something


class Stretch(NamedTuple):
    """The tune from one heard note to another (indices, both within)."""

    first: int
    last: int
    start: float
    end: float


def make_passages(
    heard: Heard, tune: Sequence[Stretch], broken: Sequence[Broken]
) -> tuple[Passage, ...]:
    """Passages over the whole take. `tune` by time; what is between is judged by its sound."""
    found = [Passage(PassageKind.TUNE, each.start, each.end) for each in tune]
    for each in broken:
        kind = PassageKind.FALSE_START if each.again else PassageKind.OTHER
        start, end = heard.notes[each.first].start, heard.notes[each.last].end
        found.append(Passage(kind, float(start), float(end)))
    found.sort(key=lambda passage: passage.start)
    loud = _playing_level(heard, tune)
    covered: list[Passage] = []
    now = 0.0
    for passage in found:
        start = max(passage.start, now)
        if start > now:
            covered.append(Passage(_kind(heard, now, start, loud), now, start))
        if passage.end > start:
            covered.append(Passage(passage.kind, start, passage.end))
            now = passage.end
        else:
            now = max(now, start)
    if heard.duration > now or not covered:
        covered.append(Passage(_kind(heard, now, heard.duration, loud), now, heard.duration))
    return _joined(covered)


def _kind(heard: Heard, start: float, end: float, loud: float) -> PassageKind:
    if any(start - 0.01 <= note.start < end - 0.01 for note in heard.notes):
        return PassageKind.OTHER
    level = heard.track.level[heard.track.frames(start, end)]
    if len(level) and float(np.mean(level > loud - QUIET_DB)) > LOUD_SHARE:
        return PassageKind.OTHER
    return PassageKind.SILENCE


def _playing_level(heard: Heard, tune: Sequence[Stretch]) -> float:
    """The median level of the tune's notes, or of all notes where there is no tune, dBFS."""
    levels = [heard.notes[k].level for each in tune for k in range(each.first, each.last + 1)] or [
        note.level for note in heard.notes
    ]
    return float(np.median(levels)) if levels else 0.0


def _joined(passages: list[Passage]) -> tuple[Passage, ...]:
    """Neighbours of one kind are one, except that the tune may stop and begin again."""
    found: list[Passage] = []
    for passage in passages:
        if found and found[-1].kind is passage.kind and passage.kind is not PassageKind.TUNE:
            found[-1] = Passage(passage.kind, found[-1].start, passage.end)
        else:
            found.append(passage)
    return tuple(found)
