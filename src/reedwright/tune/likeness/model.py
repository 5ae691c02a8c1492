"""The values of finding a tune: what is asked, what is found."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from reedwright.errors import ReedwrightError

FEWEST_NOTES = 4


class NotFindable(ReedwrightError):
    """The query is no melody: it can't be read, or is too short to find anything by."""


class QueryNote(NamedTuple):
    """A note to find: MIDI pitch (with fractions where it was heard), onset and length.

    Times are in seconds or quarter notes, whichever: only their proportions are used.
    """

    midi: float
    onset: float
    length: float


@dataclass(frozen=True, slots=True)
class Query:
    """A melody to find. Without `has_rhythm`, onsets and lengths are not looked at."""

    notes: tuple[QueryNote, ...]
    has_rhythm: bool = True


class Listed(NamedTuple):
    """A tune of a collection, as it is named there."""

    number: str
    title: str
    source: str
    type: str
    key: str
    meter: str


class Difference(NamedTuple):
    """How many notes of a query do not fit the tune, by what is wrong with them."""

    wrong: int = 0
    missed: int = 0  # in the tune, not in the query
    added: int = 0  # in the query, not in the tune
    octave: int = 0  # right but for the octave
    rhythm: int = 0  # clearly longer or shorter than written

    @property
    def notes(self) -> int:
        return self.wrong + self.missed + self.added + self.octave


@dataclass(frozen=True, slots=True)
class Match:
    """A tune that fits a query.

    `score` is 1 less the cost of what differs, for each note of the query: 1 where all fits,
    0.9 where about one note in ten is wrong; under 0.65 it is hardly the tune. `index` is the
    tune's in the collection. `first_bar` to `last_bar` are the printed numbers of the bars that
    fit. `semitones` is how far the query lies above the tune as written; None where only
    ups and downs were asked.
    """

    tune: Listed
    index: int
    score: float
    first_bar: int
    last_bar: int
    semitones: int | None
    difference: Difference
