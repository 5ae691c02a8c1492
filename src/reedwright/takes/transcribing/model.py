"""What is wished of a first notation, and what comes of it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.tune.model import Key, Meter, Tempo, Tune

SHORTEST_BAR = Fraction(1, 2)  # quarter notes
TICKS = 12
"""Grid steps to a quarter note: semiquavers are 3, triplet quavers 4, their semiquavers 2."""


@dataclass(frozen=True, slots=True)
class NotationWishes:
    """What the player knows of the tune already. What is not given is estimated.

    `type` is a tune type by any of its names ("jig", "slip jig"), `key` the key it is in,
    `meter` its metre. `quarters_per_minute` says about how fast it is played, for takes
    whose beat could be felt at half or double speed.

    Raises `ReedwrightError` for a metre that nothing can be written in.
    """

    title: str = ""
    type: str = ""
    meter: Meter | None = None
    key: Key | None = None
    quarters_per_minute: float | None = None

    def __post_init__(self) -> None:
        length = None if self.meter is None else self.meter.bar_length
        if self.meter is not None and length is not None and length < SHORTEST_BAR:
            raise ReedwrightError(
                f"Metre {self.meter.name}: a first notation needs bars of a quaver or more. "
                "Name a metre such as 6/8, 4/4 or C|, or none."
            )


class Stroke(NamedTuple):
    """One note as struck: seconds from onset to end, the MIDI note, the cuts before it.

    `start` is where its first cut begins, as cuts are played on the beat. `level` in dBFS.
    """

    start: float
    end: float
    midi: int
    graces: tuple[int, ...]
    level: float
    surety: float


class Placed(NamedTuple):
    """A stroke on the grid: its onset in ticks (see `TICKS`) from the first bar line of the
    take's first bar, its length, and how far it was from there in seconds."""

    onset: int
    length: int
    midi: int
    graces: tuple[int, ...]
    error: float
    surety: float


@dataclass(frozen=True, slots=True)
class TranscribedBar:
    """How sure a written bar is.

    `index` is its place among the tune's bars, `number` what is printed (0: the anacrusis).
    `sureness` is 0 to 1; `passes` how many times it was heard; `doubt` says in words what
    makes it unsure, empty where nothing does.
    """

    index: int
    number: int
    sureness: float
    passes: int
    doubt: str = ""


@dataclass(frozen=True, slots=True)
class Transcription:
    """A tune written down.

    `abc` is its text, which reads back as `tune` without a problem. `swing` is how much
    longer the first of two quavers was played than the second (1 is even), which the
    notation leaves out. `rounds`: how often the whole tune was heard.
    `remarks` are for the player, the most useful first. `placed` are the notes as played,
    before repeats were folded.
    """

    tune: Tune
    abc: str
    bars: tuple[TranscribedBar, ...]
    remarks: tuple[str, ...]
    tempo: Tempo
    swing: float
    sureness: float
    placed: tuple[Placed, ...] = ()
    meter_sureness: float = 0.0
    key_sureness: float = 0.0
    rounds: int = 1

    @property
    def quarters_per_minute(self) -> float:
        return float(self.tempo.quarters_per_minute or Fraction(0))
