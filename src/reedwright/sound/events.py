"""What is to be heard, in seconds: the values between timing, voice and MIDI."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from typing import NamedTuple

from reedwright.harp.model import Sounding
from reedwright.tune.model import Key, Meter


class Onset(StrEnum):
    """How a note begins."""

    TONGUED = "tongued"
    SLURRED = "slurred"  # in the breath that is already flowing


class Span(NamedTuple):
    """From when to when, in seconds from the start of the track."""

    start: float
    end: float


@dataclass(frozen=True, slots=True)
class SoundedNote:
    """One stretch of one pitch.

    `id` is the written note's, or the grace note's for a cut; a roll gives several
    stretches of one id, and `is_grace` marks its quick ones. `sounding` is None for a
    note that the harp lacks: it is sounded all the same, so that the tune goes on.
    `isolated`: its reed is valved off from the other; `bendable`: it can be bent in pitch.
    `velocity` is 0 to 1. `glide_from` is where a bend's pitch comes from, in cents
    above the note (negative for a slide, from below), and `glide_time` how long it takes.
    `quarters` is where the note stands in the played-out tune, written onset and length
    in quarter notes (a cut stands at its note, with length 0).
    """

    id: str
    midi: int
    frequency: float
    span: Span
    sounding: Sounding | None
    isolated: bool
    bendable: bool
    velocity: float
    onset: Onset
    is_grace: bool
    quarters: tuple[Fraction, Fraction]
    glide_from: float = 0.0
    glide_time: float = 0.0

    @property
    def seconds(self) -> float:
        """How long it sounds."""
        return self.span.end - self.span.start


class Click(NamedTuple):
    """One click of the count-in; `strong` on the first beat of a bar."""

    time: float
    strong: bool


class TempoPoint(NamedTuple):
    """From this place (quarter notes into the tune) on, so many quarter notes a minute."""

    quarter: Fraction
    quarters_per_minute: float


class BarStart(NamedTuple):
    """A bar as played: where it starts (quarter notes), its key and metre, and its length."""

    quarter: Fraction
    key: Key
    meter: Meter
    length: Fraction


@dataclass(frozen=True, slots=True)
class Timeline:
    """A tune as it will be heard.

    `notes` by start. `spans` is the timing map: for each id of a written note or grace
    note, from when to when it lasts, each time that it is played (in the order of
    playing). `tune_start` is when the tune's first beat falls, after the count-in.
    `speed` is 1 for the full tempo. `lilt` names the lilt, empty where played straight.
    """

    title: str
    notes: tuple[SoundedNote, ...]
    clicks: tuple[Click, ...]
    spans: Mapping[str, tuple[Span, ...]]
    bars: tuple[BarStart, ...]
    tempi: tuple[TempoPoint, ...]
    length: Fraction
    tune_start: float
    duration: float
    speed: float
    lilt: str
