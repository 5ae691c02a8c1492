"""What an ornament is: its kind, its note, the holes that it touches, and where it comes from.

The words are the trade's (common practice, no source): a cut touches the hole above, a tap
the hole below, in the breath of the note. A long roll fills a dotted crotchet: the note, a
cut, the note, a tap, the note; a short roll leaves out the first of the three. A slide is a bend
let go into the note. A warble shakes between two holes of one breath.

Public: `OrnamentKind`, `Origin`, `Outcome`, `Amount`, `Ornament`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from reedwright.harp.model import Sounding


class OrnamentKind(StrEnum):
    CUT = "cut"
    TAP = "tap"
    GRACES = "grace notes"  # several in a row, or one that is no neighbour
    LONG_ROLL = "long roll"
    SHORT_ROLL = "short roll"
    TRIPLET = "triplet"
    SLIDE = "slide"
    WARBLE = "warble"


class Origin(StrEnum):
    """Who put it there."""

    WRITTEN = "written"
    SUGGESTED = "suggested"
    TEACHER = "teacher"


class Outcome(StrEnum):
    """What became of it on this harp."""

    AS_WRITTEN = "as written"
    OTHER = "other notes"  # played, but with the notes that this harp has there
    LEFT_OUT = "left out"


class Amount(StrEnum):
    """How much ornament a tab is to have. Beyond `WRITTEN` ornaments are suggested."""

    NONE = "none"
    WRITTEN = "as written"
    LIGHT = "light"
    MEDIUM = "medium"
    FULL = "full"


@dataclass(frozen=True, slots=True)
class Ornament:
    """One ornament on one written note.

    `note_id` is the note as it stands in the tune before it was dressed. `main` is how that
    note is sounded (None where the harp lacks it) and `touched` what else sounds, in order:
    the neighbours, the bend of a slide, the other hole of a warble. `written` has the
    pitches of the grace notes as the source writes them, `bar` the printed number.
    `why` tells, where the outcome is not as written, what was done instead or why nothing.
    """

    note_id: str
    kind: OrnamentKind
    origin: Origin
    outcome: Outcome
    bar: int
    main: Sounding | None = None
    touched: tuple[Sounding, ...] = ()
    written: tuple[str, ...] = ()
    why: str = ""
