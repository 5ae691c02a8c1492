"""What may be chosen about practice tracks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from reedwright.errors import ReedwrightError

DEFAULT_SLOW_PERCENT = 55
SLOWEST_PERCENT, FASTEST_PERCENT = 20, 150  # as in a pack
MOST_RETUNED = 1200.0  # cents either way
MOST_ROUNDS = 99


class BarRange(NamedTuple):
    """Bars by printed number, both ends in. `time`: which time they are played in the take.

    `time` 0 leaves the choice to the program: the time that was played most cleanly.
    """

    first: int
    last: int
    time: int = 0

    @property
    def name(self) -> str:
        """`bar 9`, `bars 3 to 4`."""
        return f"bar {self.first}" if self.first == self.last else f"bars {self.first} to {self.last}"


@dataclass(frozen=True, slots=True)
class PracticeSettings:
    """`speeds` are percents of the take's own tempo, for tracks beside the full one.

    `parts`: each part as played as a track of its own. `loops`: bars to go round `rounds`
    times, each after one bar of clicks where `count_in`. `loop_speeds`: percents for the
    loops; empty means full and `speeds`. `retune` moves the pitch of all by so many cents
    (from A 443 to A 440: -11.8). `rumble` is the corner in Hz under which everything is taken
    out: None for one that follows from the lowest note, 0 for leaving it in. `artist`,
    `album`, `genre` are for the tags; an empty album is the title.

    Raises `ReedwrightError` for what cannot be done.
    """

    speeds: tuple[int, ...] = (DEFAULT_SLOW_PERCENT,)
    parts: bool = False
    loops: tuple[BarRange, ...] = ()
    rounds: int = 4
    count_in: bool = True
    retune: float = 0.0
    loop_speeds: tuple[int, ...] = ()
    rumble: float | None = None
    artist: str = ""
    album: str = ""
    genre: str = "Folk"

    def __post_init__(self) -> None:
        object.__setattr__(self, "loops", _ranges(self.loops))
        for speed in (*self.speeds, *self.loop_speeds):
            if not SLOWEST_PERCENT <= speed <= FASTEST_PERCENT:
                raise ReedwrightError(
                    f"Speed {speed} %: choose from {SLOWEST_PERCENT} to {FASTEST_PERCENT}."
                )
        if not 1 <= self.rounds <= MOST_ROUNDS:
            raise ReedwrightError(f"{self.rounds} rounds: choose from 1 to {MOST_ROUNDS}.")
        if not abs(self.retune) <= MOST_RETUNED:  # also what is no number
            raise ReedwrightError(
                f"Retuning by {self.retune:g} cents: choose from -{MOST_RETUNED:g} to {MOST_RETUNED:g}."
            )
        if self.rumble is not None and not 0 <= self.rumble <= MOST_RUMBLE:
            raise ReedwrightError(
                f"Rumble taken out under {self.rumble:g} Hz: choose from 0 (off) to {MOST_RUMBLE:g}."
            )

    def described(self) -> dict[str, object]:
        """JSON-ready, for the manifest; shape in docs/formats.md."""
        return {
            "speeds_percent": list(self.speeds),
            "parts": self.parts,
            "loops": [
                {"first": each.first, "last": each.last, "time": each.time} for each in self.loops
            ],
            "loop_speeds_percent": list(self.loop_speeds or (FULL_PERCENT, *self.speeds)),
            "rounds": self.rounds,
            "count_in": self.count_in,
            "retuned_cents": self.retune,
            "rumble_hz": self.rumble,
            "artist": self.artist,
        }


FULL_PERCENT = 100
MOST_RUMBLE = 1000.0  # Hz


def _ranges(loops: Iterable[tuple[int, ...]]) -> tuple[BarRange, ...]:
    """Pairs (first, last) and triples (first, last, time) as bar ranges, each once."""
    found = tuple(dict.fromkeys(BarRange(*each) for each in loops))
    for each in found:
        if not 0 <= each.first <= each.last or each.time < 0:
            raise ReedwrightError(
                f"Bars {each.first} to {each.last}: the first bar goes first, counted from 0."
            )
    return found
