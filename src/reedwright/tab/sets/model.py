"""Sets and evenings as values.

Public: `SetEntry`, `TuneSet`, `Evening`.
"""

from __future__ import annotations

from dataclasses import dataclass

from reedwright.harp.model import Harp
from reedwright.tune.model import Tune


@dataclass(frozen=True, slots=True)
class SetEntry:
    """A tune in a set, and how it is played: the harp, the tune moved by octaves (and by semitones
    to another key). `times`: how often it is played through. `why`: a few words on its place."""

    tune: Tune
    harp: Harp
    octaves: int = 0
    semitones: int = 0
    effort_per_note: float = 0.0
    times: int = 3
    why: str = ""


@dataclass(frozen=True, slots=True)
class TuneSet:
    """Tunes that are played one after another without a stop."""

    name: str
    entries: tuple[SetEntry, ...]
    why: str = ""


@dataclass(frozen=True, slots=True)
class Evening:
    """Sets in the order in which they are played. `harps`: all that are needed, in the order in
    which they are first taken up."""

    title: str
    sets: tuple[TuneSet, ...]

    @property
    def harps(self) -> tuple[Harp, ...]:
        return tuple(dict.fromkeys(entry.harp for each in self.sets for entry in each.entries))
