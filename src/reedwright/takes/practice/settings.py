"""What may be chosen about practice tracks."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from reedwright.errors import ReedwrightError

DEFAULT_SLOW_PERCENT = 55
SLOWEST_PERCENT, FASTEST_PERCENT = 20, 150
MOST_RETUNED = 1200  # cents either way
MOST_ROUNDS = 99
MOST_RUMBLE = 1000  # Hz
FULL_PERCENT = 100


class Loop(NamedTuple):
    """Bars to go round, by printed number, both ends in.

    `time`: which time they are played in the take; 0 leaves the choice to the program, which
    takes the one that was played most cleanly. `rounds` 0 and empty `speeds` (percents): as the
    settings have them.
    """

    first: int
    last: int
    time: int = 0
    rounds: int = 0
    speeds: tuple[int, ...] = ()

    @property
    def name(self) -> str:
        """`bar 9`, `bars 3 and 4`, `the upbeat and bar 1`."""
        from reedwright.tab.words import bars_text  # late: `--help` reads these settings

        return bars_text(range(self.first, self.last + 1))


@dataclass(frozen=True, slots=True)
class PracticeSettings:
    """`speeds` are percents of the take's own tempo, for tracks beside the full one.

    `parts`: each part as played as a track of its own. `loops`: bars to go round `rounds`
    times, each after one bar of clicks where `count_in`. `retune` moves the pitch of all by so
    many cents (from A 443 to A 440: -11.8). `rumble` is the corner in Hz under which everything
    is taken out: None for one that follows from the lowest note, 0 for leaving it in.
    `artist`, `album`, `genre` are for the tags; an empty album is the title.

    Raises `ReedwrightError` for what cannot be done.
    """

    speeds: tuple[int, ...] = (DEFAULT_SLOW_PERCENT,)
    parts: bool = False
    loops: tuple[Loop, ...] = ()
    rounds: int = 4
    count_in: bool = True
    retune: float = 0.0
    rumble: float | None = None
    artist: str = ""
    album: str = ""
    genre: str = "Folk"

    def __post_init__(self) -> None:
        object.__setattr__(self, "loops", _ranges(self.loops))
        check_speeds((*self.speeds, *(speed for loop in self.loops for speed in loop.speeds)))
        for rounds in (self.rounds, *(loop.rounds or 1 for loop in self.loops)):
            if not 1 <= rounds <= MOST_ROUNDS:
                raise ReedwrightError(f"{rounds} rounds: choose from 1 to {MOST_ROUNDS}.")
        if not abs(self.retune) <= MOST_RETUNED:  # also what is no number
            raise ReedwrightError(
                f"Retuning by {self.retune:g} cents: choose from -{MOST_RETUNED} to {MOST_RETUNED}."
            )
        if self.rumble is not None and not 0 <= self.rumble <= MOST_RUMBLE:
            raise ReedwrightError(
                f"Rumble under {self.rumble:g} Hz: choose from 0 (left in) to {MOST_RUMBLE}."
            )

    def described(self) -> dict[str, object]:
        """JSON-ready, for the manifest; shape in docs/formats.md."""
        return {
            "speeds_percent": list(self.speeds),
            "parts": self.parts,
            "loops": [
                {"first": each.first, "last": each.last, "time": each.time} for each in self.loops
            ],
            "rounds": self.rounds,
            "count_in": self.count_in,
            "retuned_cents": self.retune,
            "rumble_hz": self.rumble,
            "artist": self.artist,
        }

    @property
    def all_speeds(self) -> tuple[int, ...]:
        """Full tempo first, each once."""
        return tuple(dict.fromkeys((FULL_PERCENT, *self.speeds)))

    @property
    def asks_for_bars(self) -> bool:
        """Whether it asks for what only a followed tune has."""
        return self.parts or bool(self.loops)


def check_speeds(percents: Iterable[int]) -> None:
    """Raises `ReedwrightError` for a speed that no track is made at."""
    for percent in percents:
        if not SLOWEST_PERCENT <= percent <= FASTEST_PERCENT:
            raise ReedwrightError(
                f"Speed {percent} %: choose from {SLOWEST_PERCENT} to {FASTEST_PERCENT}."
            )


def _ranges(loops: Iterable[Loop | tuple[int, int]]) -> tuple[Loop, ...]:
    """Also plain pairs of bar numbers as loops, each once."""
    found = tuple(dict.fromkeys(Loop(*each) for each in loops))
    for each in found:
        if not 0 <= each.first <= each.last or each.time < 0:
            raise ReedwrightError(
                f"Bars {each.first} to {each.last}: the first bar goes first, counted from 0."
            )
    return found
