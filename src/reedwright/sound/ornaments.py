"""Cuts, rolls and trills as they are played: quick notes from the holes beside.

A cut is made by moving for an instant to the next hole in the same breath, so that its
pitch is what that hole sounds. Lengths are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from reedwright.harp.model import Harp, Sounding, Technique
from reedwright.sound.events import Span

SHORTEST_CUT, LONGEST_CUT = 0.030, 0.060  # seconds
CUT_SHARE = 0.22  # of the note's length, between these two
MOST_OF_NOTE = 1 / 3  # all cuts of a note together
SHORTEST_ROLL = 0.28  # seconds; a shorter note gets a single cut instead
TRILL_NOTE = 0.085  # seconds for each note of a trill (a shake between two holes)
_ROLLS = ("roll",)
_TRILLS = ("trill", "trill(")
_UPPER = ("uppermordent", "pralltriller")
_LOWER = ("lowermordent", "mordent")


class Stretch(NamedTuple):
    """A part of an ornamented note: when, from which hole, and whether it is a quick one."""

    span: Span
    sounding: Sounding | None
    quick: bool


def cut_seconds(note_seconds: float, cuts: int) -> float:
    """How long each of a note's cuts lasts, in seconds."""
    wished = min(LONGEST_CUT, max(SHORTEST_CUT, CUT_SHARE * note_seconds))
    return min(wished, MOST_OF_NOTE * note_seconds / cuts)


def ornamented(
    span: Span, sounding: Sounding | None, decorations: Sequence[str], harp: Harp
) -> list[Stretch]:
    """The note as it is played with its decorations; whole where it has none of these."""
    plain = [Stretch(span, sounding, False)]
    if sounding is None or sounding.technique is not Technique.NATURAL:
        return plain
    above = _neighbour(sounding, harp, 1)
    below = _neighbour(sounding, harp, -1)
    if any(each in _ROLLS for each in decorations):
        if span.end - span.start < SHORTEST_ROLL:
            return _touched(span, sounding, [(0.0, above)])
        return _touched(span, sounding, [(1 / 3, above), (2 / 3, below)])
    if above is not None and any(each in _TRILLS for each in decorations):
        return _shaken(span, sounding, above)
    if any(each in _UPPER for each in decorations):
        return _touched(span, sounding, [(0.25, above)])
    if any(each in _LOWER for each in decorations):
        return _touched(span, sounding, [(0.25, below)])
    return plain


def _neighbour(sounding: Sounding, harp: Harp, step: int) -> Sounding | None:
    hole = sounding.hole + step
    if not 1 <= hole <= harp.tuning.holes:
        return None
    midi = harp.reed_midi(hole, sounding.breath, sounding.slide)
    return Sounding(hole, sounding.breath, Technique.NATURAL, midi, 0, sounding.slide)


def _touched(
    span: Span, sounding: Sounding, touches: Sequence[tuple[float, Sounding | None]]
) -> list[Stretch]:
    """The note with quick notes at these shares of its length. A hole that is not there is none."""
    there = [(share, touch) for share, touch in touches if touch is not None]
    if not there:
        return [Stretch(span, sounding, False)]
    seconds = span.end - span.start
    quick = cut_seconds(seconds, len(there))
    stretches: list[Stretch] = []
    now = span.start
    for share, touch in there:
        at = span.start + share * seconds
        if at > now:
            stretches.append(Stretch(Span(now, at), sounding, False))
        stretches.append(Stretch(Span(at, at + quick), touch, True))
        now = at + quick
    stretches.append(Stretch(Span(now, span.end), sounding, False))
    return stretches


def _shaken(span: Span, sounding: Sounding, above: Sounding) -> list[Stretch]:
    count = max(1, int((span.end - span.start) / TRILL_NOTE)) | 1  # odd: it ends on its own note
    each = (span.end - span.start) / count
    return [
        Stretch(
            Span(span.start + k * each, span.start + (k + 1) * each),
            above if k % 2 else sounding,
            count > 1 and k % 2 == 1,
        )
        for k in range(count)
    ]
