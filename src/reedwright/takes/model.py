"""A take followed along its tune: which written note was heard when."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from reedwright.sound.hearing.model import Heard
from reedwright.tab.arrangement import Arrangement


@dataclass(frozen=True, slots=True)
class FollowedNote:
    """One written note (or grace note) at one of the times that the take comes to it.

    `id` is the note's in `arrangement.tune` (of a tie, its first note's). `time` counts the
    times through it, from 1, in this take, false starts apart. `midi` is what is written,
    moved to the harp that was played (see `Following.semitones`). `onset` and `length` are in
    quarter notes along the music as this take plays it. `start` and `end` are seconds in the
    take; where the note was not heard they are where it would have been. `heard` are the
    indices of `Heard.notes` that play it: none where it was missed, and one in general (more
    where it was broken up). `bar` is the index of its bar in the voice. `round` is the time
    through the whole tune, from 1.
    """

    id: str
    time: int
    midi: int
    onset: Fraction
    length: Fraction
    bar: int
    start: float
    end: float
    heard: tuple[int, ...]
    is_grace: bool = False
    round: int = 1

    @property
    def was_heard(self) -> bool:
        return bool(self.heard)


@dataclass(frozen=True, slots=True)
class FollowedBar:
    """One bar at one of the times that the take plays it.

    `index` is the bar's in the voice, `number` what is printed, `part` the letter of the
    part it belongs to (`A`, `B`; empty where there is none), `part_time` which time
    through that part (from 1), `start` and `end` are seconds; `onset` and `length` are in
    quarter notes along the take's music. `first` and `last` bound its notes in
    `Following.notes` as a slice. `round` is the time through the whole tune, from 1. `whole`:
    it was played from end to end, not begun or broken off in the middle.
    """

    index: int
    number: int
    part: str
    part_time: int
    start: float
    end: float
    onset: Fraction
    length: Fraction
    first: int
    last: int
    round: int = 1
    whole: bool = True


class PassageKind(StrEnum):
    """What a stretch of a take is."""

    TUNE = "tune"
    FALSE_START = "false start"  # broken off and begun again
    OTHER = "other"  # talk, noodling, applause
    SILENCE = "silence"


@dataclass(frozen=True, slots=True)
class Passage:
    """A stretch of the take, seconds. Passages follow each other and cover the whole take."""

    kind: PassageKind
    start: float
    end: float


# `Following.sureness` below which the take does not fit the tune: nothing is judged or cut by it.
# Right pairs gave 1.00, wrong ones 0.15 at most (docs/following.md).
LEAST_SURENESS = 0.4


@dataclass(frozen=True, slots=True)
class Following:
    """A take followed.

    `notes` are in the order of the take, without those of false starts. `extra` are indices of
    `Heard.notes` within the tune that play no written note. `semitones` is how far above the
    arrangement's own pitch it was played (another key of harp). `skipped` says in words what
    was left out or played again ("the repeat of part B"). `sureness` (0 to 1) says how well
    the take fits the tune at all.
    """

    arrangement: Arrangement
    heard: Heard
    notes: tuple[FollowedNote, ...]
    bars: tuple[FollowedBar, ...]
    extra: tuple[int, ...]
    passages: tuple[Passage, ...]
    semitones: int
    skipped: tuple[str, ...]
    sureness: float

    def quarters_per_minute(self) -> float:
        """The tempo of the whole, false starts and stops apart: the median of its bars."""
        rates = sorted(
            60 * float(bar.length) / (bar.end - bar.start)
            for bar in self.bars
            if bar.length and bar.end > bar.start
        )
        return rates[len(rates) // 2] if rates else 0.0
