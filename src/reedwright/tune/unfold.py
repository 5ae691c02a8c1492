"""The order in which a tune is played: repeats, endings, parts and jumps played out.

Public: `unfold`, `Performance`, `PlayedBar`, `PlayedNote`, `SoundingNote`.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from reedwright.tune.model import Bar, Note, Pitch, Tune


class PlayedBar(NamedTuple):
    """One bar as it is played: when it starts (quarter notes) and on which pass (from 1)."""

    bar: Bar
    onset: Fraction
    pass_number: int


class PlayedNote(NamedTuple):
    """One written note as it is played once.

    `onset` in quarter notes from the start of the tune, `beat` from 1 in notated
    beats of the bar. `continues`: it is the rest of a tie, not sounded anew.
    """

    note: Note
    bar: Bar
    onset: Fraction
    beat: Fraction
    pass_number: int
    continues: bool


class SoundingNote(NamedTuple):
    """One pitch from its start to its end, ties joined. Quarter notes."""

    pitch: Pitch
    onset: Fraction
    length: Fraction
    note: Note


@dataclass(frozen=True, slots=True)
class Performance:
    """A tune played out. `length` is in quarter notes."""

    bars: tuple[PlayedBar, ...]
    notes: tuple[PlayedNote, ...]
    sounding: tuple[SoundingNote, ...]
    length: Fraction


def unfold(tune: Tune, voice: int = 0) -> Performance:
    """Play out one voice of a tune."""
    raise NotImplementedError
