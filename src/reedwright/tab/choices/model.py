"""What a teacher decided about a tune, as the arrangement file keeps it.

A choice is tied to a place in the music as written: part, bar in the part, beat, pitch. It
knows nothing of ids, which change when a tune is edited; `resolving` finds the note.

Public: `NotePlace`, `Way`, `Play`, `Never`, `Ornamented`, `Breathe`, `Choice`, `Aside`,
`TuneChoices`, `ChoicesError`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Breath, Harp, Sounding
from reedwright.tab.ornaments.model import Amount, OrnamentKind
from reedwright.tab.words import bars_text

FORM = 1
"""The form of file that is written; a file of a higher one is refused."""


class ChoicesError(ReedwrightError):
    """An arrangement file that cannot be used, or a choice that cannot be made."""


class NotePlace(NamedTuple):
    """Where a note stands in the tune as written, before it is moved by octaves.

    `bar` counts from 1 within the part (0 is its upbeat), `beat` in notated beats from 1
    (an upbeat counts from where it would stand in a full bar). `pitch` is a name such as
    `F#4`; `between` the names of the notes before and after, `A4 C5`, `-` where there is
    none, empty where it was not written down. `time` is 0 for every time that the note is
    played, 1 or 2 where repeats are written out.
    """

    part: str
    bar: int
    beat: Fraction
    pitch: str
    between: str = ""
    time: int = 0

    @property
    def words(self) -> str:
        """`part A bar 3 beat 2.5, B4`, as messages name it."""
        where = f"part {self.part} {bars_text([self.bar]).removeprefix('the ')}"
        time = f", time {self.time}" if self.time else ""
        return f"{where} beat {beat_text(self.beat)}, {self.pitch}{time}"


def beat_text(beat: Fraction) -> str:
    """`2`, `2.5`, `1.33` (a third of a beat): as it can be typed."""
    decimals = 2 if beat.denominator % 3 == 0 else 4
    return f"{float(beat):.{decimals}f}".rstrip("0").rstrip(".")


class Way(NamedTuple):
    """A way to sound a note, said without a harp: `3 draw bent a semitone`, `6 overblow`."""

    hole: int
    breath: Breath
    bend: int = 0
    over: bool = False
    slide: bool = False

    def on(self, harp: Harp) -> Sounding | None:
        """What it is on this harp; None where the harp has no such thing."""
        for sounding in harp.soundings:
            if Way.of(sounding) == self:
                return sounding
        return None

    @classmethod
    def of(cls, sounding: Sounding) -> Way:
        return cls(
            sounding.hole,
            sounding.breath,
            sounding.bend,
            sounding.technique.overbend,
            sounding.slide,
        )


class Play(NamedTuple):
    """The note is to be played so."""

    way: Way


class Never(NamedTuple):
    """The note must not be played in any of these ways."""

    ways: tuple[Way, ...]


class Ornamented(NamedTuple):
    """The note has this ornament; None: it has none."""

    kind: OrnamentKind | None


class Breathe(NamedTuple):
    """A breath after the note, or never one there."""

    breathe: bool


Says = Play | Never | Ornamented | Breathe


class Choice(NamedTuple):
    """One decision about one note."""

    place: NotePlace
    says: Says


class Aside(NamedTuple):
    """A choice that fits no note of the tune as it is now, and why. It is tried every time."""

    choice: Choice
    reason: str


Weight = float | tuple[float, ...]


@dataclass(frozen=True, slots=True)
class TuneChoices:
    """All that is decided about one tune. None and "" mean that nothing was said.

    `table` is its place among the tables of the file, None where it has none yet.
    """

    title: str = ""
    number: str = ""
    harp: str = ""
    octaves: int | None = None
    semitones: int | None = None
    player: str = ""
    amount: Amount | None = None
    second_time: bool = False
    voice: int | None = None
    weights: Mapping[str, Weight] = field(default_factory=dict)
    choices: tuple[Choice, ...] = ()
    aside: tuple[Aside, ...] = ()
    table: int | None = None

    @property
    def empty(self) -> bool:
        """Whether nothing is decided, so that arranging is as without a file."""
        return self == TuneChoices(self.title, self.number, table=self.table)
