"""Which harps a set needs, what one harp less costs, and how the keys change from tune to tune.

Public: `HarpsNeeded`, `harps_needed`, `MOST_AT_ONCE`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from threading import Lock

from reedwright.harp.model import Harp
from reedwright.player.loading import load_profile
from reedwright.shelf.belongings.lessons import tunes_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item
from reedwright.tab.sets.efforts import efforts
from reedwright.tab.sets.fewest import HarpChoice, OnHarp, Step, fewest_harps, frontier
from reedwright.tab.sets.joins import Place, key_step
from reedwright.tab.sets.model import Evening, SetEntry, TuneSet
from reedwright.tab.sets.traits import traits_of
from reedwright.tab.sets.wishes import Limit
from reedwright.tune.model import Tune
from reedwright.web.remembering import Remembered
from reedwright.web.shelf.evenings import owned, playable

MOST_AT_ONCE = 60  # tunes whose harps are worked out while a page waits: a second's work
MOST_STEPS = 8  # harps in the table of how many play how much
TIMES = 3  # how often a tune of a set is played, where nobody says
KEPT = 32
PATIENCE = 2.0  # seconds for each aim; what is not proven by then is said


@dataclass(frozen=True, slots=True)
class KeyStep:
    """From the tune before to this one, as they are played."""

    title: str
    key: str
    harp: str
    changes: bool
    words: str


@dataclass(frozen=True, slots=True)
class HarpsNeeded:
    """`steps`: one line for each number of harps."""

    choice: HarpChoice
    steps: tuple[Step, ...]
    keys: tuple[KeyStep, ...]

    def sheet(self, name: str) -> Evening:
        """The list in its own order as one set, each tune on its harp."""
        entries = tuple(
            SetEntry(on.tune, on.harp, on.octaves, on.semitones, on.effort_per_note, TIMES)
            for on in _in_order(self.choice)
        )
        return Evening(name, (TuneSet(name, entries),))


def _in_order(choice: HarpChoice) -> list[OnHarp]:
    return sorted(choice.tunes, key=lambda on: on.place)


_KEPT: Remembered[HarpsNeeded] = Remembered(KEPT)
_working = Lock()  # one at a time, so that typing elsewhere is not slowed


def harps_needed(
    shelf: Shelf, item: Item, no_bends: bool = False, of_mine: bool = False
) -> HarpsNeeded:
    """Of all harps that are made, or of those on the shelf. Raises `ShelfError` where the list has
    no tunes with notes, or the shelf no harps."""
    items = tunes_of(shelf, item.id)
    harps = owned(shelf) if of_mine else None
    key = (tuple((each.uid, each.state.number) for each in items), no_bends, harps)

    def work_out() -> HarpsNeeded:
        tunes = playable(shelf, items)
        with _working:
            return _worked_out(tunes, no_bends, harps)

    return _KEPT.get(key, work_out)


def _worked_out(tunes: Sequence[Tune], no_bends: bool, harps: Sequence[Harp] | None) -> HarpsNeeded:
    table = efforts(tunes, load_profile("player"), harps, workers=1)
    limit = Limit(no_bends=no_bends)
    choice = fewest_harps(table, limit, seconds=PATIENCE)
    steps = frontier(table, limit, most=MOST_STEPS, seconds=PATIENCE)
    return HarpsNeeded(choice, steps, _keys(choice))


def _keys(choice: HarpChoice) -> tuple[KeyStep, ...]:
    found: list[KeyStep] = []
    before: Place | None = None
    for on in _in_order(choice):
        traits = traits_of(on.tune)
        place = (
            None
            if traits is None
            else Place(traits, on.harp, 12 * on.octaves + on.semitones, on.effort_per_note, 0.0)
        )
        words = key_step(before, place)[1] if before is not None and place is not None else ""
        changes = before is not None and place is not None and before.harp != place.harp
        key = "" if on.tune.key.mode == "none" else on.tune.key.name
        found.append(KeyStep(on.tune.title, key, on.harp.name, changes, words))
        before = place
    return tuple(found)
