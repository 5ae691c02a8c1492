"""The values of a harp's history: what was measured, done and noted, and when.

Public: `History`, `Measured`, `Converted`, `Noted`, `Entry`, `HeardReed`, `HeardBeats`,
`HistoryError`, `NoHistory`, `WHEN`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Reed

# What a measurement was made for.
WHEN = ("before", "after", "check")


class HistoryError(ReedwrightError):
    """A history that is damaged, or an entry that cannot be added."""


class NoHistory(HistoryError):
    """There is no history of that name."""


class HeardReed(NamedTuple):
    """One reed as it was measured: Hz; cents from the target that it had then, with their
    standard error; wander in cents, attack in seconds, level in dBFS; from how many tones.

    `others`: reeds of the same note that it may be instead.
    """

    reed: Reed
    hz: float
    target_hz: float
    cents: float
    uncertainty: float
    wander: float
    attack: float
    level: float
    tones: int
    others: tuple[Reed, ...] = ()


class HeardBeats(NamedTuple):
    """Two reeds sounded together and their beats, Hz."""

    reeds: tuple[Reed, Reed]
    rate: float
    uncertainty: float


@dataclass(frozen=True, slots=True)
class Measured:
    """A measurement. `when` is one of `WHEN`; `tuned_to` says the targets in words."""

    date: datetime
    when: str
    reeds: tuple[HeardReed, ...]
    tuned_to: str = ""
    at_bench: bool = True
    shift: float = 0.0
    beats: tuple[HeardBeats, ...] = ()
    note: str = ""

    def of(self, reed: Reed) -> HeardReed | None:
        return next((each for each in self.reeds if each.reed == reed), None)


@dataclass(frozen=True, slots=True)
class Converted:
    """Reed work that made it another harp: `harp` as `parse_harp` reads it, and what was done."""

    date: datetime
    harp: str
    works: tuple[tuple[Reed, str], ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True)
class Noted:
    """A note in the user's words; also an entry of a kind that this version does not know."""

    date: datetime
    note: str
    kind: str = "note"


Entry = Measured | Converted | Noted


@dataclass(frozen=True, slots=True)
class History:
    """One harp's history.

    `name` is what its owner calls it, `harp` what it was at first as `parse_harp` reads it
    (key:tuning:valves). `entries` stand as in the file: the order in which they were added.
    """

    name: str
    harp: str
    path: Path
    entries: tuple[Entry, ...] = field(default=())

    @property
    def by_date(self) -> tuple[Entry, ...]:
        """The entries, oldest first; of one moment, as they were added."""
        return tuple(sorted(self.entries, key=lambda entry: entry.date))

    @property
    def measurements(self) -> tuple[Measured, ...]:
        """The measurements, oldest first."""
        return tuple(entry for entry in self.by_date if isinstance(entry, Measured))

    @property
    def harp_now(self) -> str:
        """What harp it is since its last conversion."""
        done = [entry.harp for entry in self.by_date if isinstance(entry, Converted)]
        return done[-1] if done else self.harp
