"""A player's rules for sets and evenings, and how much each wish weighs.

What goes well together is common practice as told in sessions, from memory and no source; the
weights are judgement. docs/sets.md lists them for users.

Public: `SetRules`, `Weights`, `NO_RULES`.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from reedwright.tab.sets.wishes import SetsError

MOST_IN_A_SET = 6  # tunes; more are a concert


@dataclass(frozen=True, slots=True)
class Weights:
    """How much each wish weighs; 0 for not at all. One is about as bad as one effort a note more.

    Within a set, from tune to tune: `harp_change`; `key`, a step that does not lift; `mode`, no
    contrast of major and minor; `tempo`, far apart; `alike`, two that begin alike; `join`, from
    the last note to the first; `rising`, the next tune is less work (more, where the hardest goes
    first). Of a tune: `effort`, a note, beside
    the usual in the list. Of a set: `size`, for each tune more or fewer than
    usual. From set to set: `set_harp_change`, `set_type`, the same type again; `set_key`,
    the same key again; `set_rising`, the next set is less work.
    """

    harp_change: float = 3.0
    key: float = 1.0
    mode: float = 0.3
    tempo: float = 0.6
    alike: float = 1.5
    join: float = 0.5
    rising: float = 0.5
    effort: float = 1.0
    size: float = 1.0
    set_harp_change: float = 0.4
    set_type: float = 1.0
    set_key: float = 0.3
    set_rising: float = 0.2


@dataclass(frozen=True, slots=True)
class SetRules:
    """What holds for sets and evenings. Tunes are named by title or number (`X:`).

    `fewest`, `most`, `usual`: tunes in a set. `times`: how often each is played. `set_minutes`: the
    shortest and longest set. `break_seconds`: between two sets. `mixed`: pairs of types (reel,
    jig...), the second of which may follow the first in a set; tunes of one type always may.
    `types`: the order in which types come in the evening, over and over; empty for any.
    `hardest`: last, first or any place in a set. `keep`: sets that stay as they are.
    `follow`: pairs, the second of which comes right after the first. `apart`: pairs that never
    stand in one set. `first`, `last` of the evening. `most_harps`: in the evening.
    """

    fewest: int = 2
    most: int = 4
    usual: int = 3
    times: int = 3
    set_minutes: tuple[float, float] | None = None
    break_seconds: float = 60.0
    mixed: tuple[tuple[str, str], ...] = ()
    types: tuple[str, ...] = ()
    hardest: str = "last"
    keep: tuple[tuple[str, ...], ...] = ()
    follow: tuple[tuple[str, str], ...] = ()
    apart: tuple[tuple[str, str], ...] = ()
    first: str = ""
    last: str = ""
    most_harps: int | None = None
    weights: Weights = field(default_factory=Weights)

    def __post_init__(self) -> None:
        if not 1 <= self.fewest <= self.usual <= self.most <= MOST_IN_A_SET:
            raise SetsError(
                f"Sets of {self.fewest} to {self.most} tunes, {self.usual} usually: give whole "
                f"numbers from 1 to {MOST_IN_A_SET}, the usual one between the others."
            )
        if self.times < 1:
            raise SetsError(f"Each tune {self.times} times: give 1 or more.")
        if self.set_minutes is not None and not 0 <= self.set_minutes[0] < self.set_minutes[1]:
            raise SetsError("The shortest set must be shorter than the longest, in minutes.")
        if self.hardest not in ("last", "first", "any"):
            raise SetsError(f"Hardest tune '{self.hardest}': say last, first or any.")
        if self.most_harps is not None and self.most_harps < 1:
            raise SetsError("An evening needs one harp at least.")


NO_RULES = SetRules()
