"""How ornaments are timed: cuts, and the shake of a warble between two holes.

Which holes they touch is settled in the arrangement: cuts, taps and rolls are grace notes of
its tune. Lengths are common practice, no source.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.harp.model import Sounding
from reedwright.sound.events import Span

SHORTEST_CUT, LONGEST_CUT = 0.030, 0.060  # seconds
CUT_SHARE = 0.22  # of the note's length, between these two
MOST_OF_NOTE = 1 / 3  # all cuts of a note together
SHAKE_NOTE = 0.085  # seconds for each note of a warble
# A slide arrives after so many seconds, or after this share of its note.
SLIDE_MOST, SLIDE_SHARE = 0.14, 0.45


class Stretch(NamedTuple):
    """A part of a note: when, from which hole, and whether it is a quick one."""

    span: Span
    sounding: Sounding | None
    quick: bool


def cut_seconds(note_seconds: float, cuts: int) -> float:
    """How long each of a note's cuts lasts, in seconds."""
    wished = min(LONGEST_CUT, max(SHORTEST_CUT, CUT_SHARE * note_seconds))
    return min(wished, MOST_OF_NOTE * note_seconds / cuts)


def shaken(span: Span, sounding: Sounding, other: Sounding) -> list[Stretch]:
    """A note in alternation with another hole, ending on its own."""
    count = max(1, int((span.end - span.start) / SHAKE_NOTE)) | 1
    each = (span.end - span.start) / count
    return [
        Stretch(
            Span(span.start + k * each, span.start + (k + 1) * each),
            other if k % 2 else sounding,
            k % 2 == 1,
        )
        for k in range(count)
    ]
