"""Evenings: planned from a list's tunes as a job, kept on the shelf, shown, and set for the stand.

Public: `Wishes`, `Planning`, `plan_work`, `kept_evening`, `set_sheet`, `as_tune`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from reedwright.harp.model import Harp
from reedwright.player.loading import load_profile
from reedwright.shelf.belongings.harps import harps_on
from reedwright.shelf.belongings.lessons import tunes_gone_from, tunes_of
from reedwright.shelf.belongings.lists import keep_evening
from reedwright.shelf.facts.reading import tune_of
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, ShelfError
from reedwright.tab.sets.efforts import efforts
from reedwright.tab.sets.eveningfile import evening_from_toml, evening_toml
from reedwright.tab.sets.evenings import plan_evening
from reedwright.tab.sets.model import Evening
from reedwright.tab.sets.rules import SetRules
from reedwright.tab.sets.wishes import HarpWishes, Limit
from reedwright.tune.model import Tune
from reedwright.web.jobs.model import Outcome, Progress
from reedwright.web.shelf.lists import unused_name

SOURCE = "shelf:"  # before a tune's number, in its `source`
TRYING = 0.8  # share of the work that trying harps is


@dataclass(frozen=True, slots=True)
class Wishes:
    """What is wished for an evening; what is None is left open."""

    title: str = "Evening"
    sets: int | None = None
    minutes: float | None = None
    fewest: int = 2
    usual: int = 3
    most: int = 4
    times: int = 3
    no_bends: bool = False
    owned: bool = False
    most_harps: int | None = None
    hardest: str = "last"
    mixed: bool = False
    player: str = "player"

    def rules(self, types: Sequence[str]) -> SetRules:
        """`types` of the tunes: each may follow each where they may be mixed. Raises
        `SetsError`."""
        known = sorted({each for each in types if each})
        pairs = tuple((one, two) for one in known for two in known if one != two)
        return SetRules(
            fewest=self.fewest,
            usual=self.usual,
            most=self.most,
            times=self.times,
            hardest=self.hardest,
            most_harps=self.most_harps,
            mixed=pairs if self.mixed else (),
        )


@dataclass(frozen=True, slots=True)
class Planning:
    """`list`: the number of the list whose tunes are put together."""

    shelf: Path
    list: int
    wishes: Wishes


def plan_work(task: Planning, progress: Progress) -> Outcome:
    """The work of the job; the evening is kept as a list of its own. Raises `SetsError`."""
    wishes = task.wishes
    with open_shelf(task.shelf, make=False) as shelf:
        tunes = playable(shelf, tunes_of(shelf, task.list))
        harps = owned(shelf) if wishes.owned else None
    rules = wishes.rules([tune.type.strip().lower() for tune in tunes])
    table = efforts(
        tunes,
        load_profile(wishes.player),
        harps,
        progress=lambda done, of: progress(
            TRYING * done / of, f"trying harps, {done} of {of} tunes"
        ),
    )
    progress(TRYING, "putting sets together")
    planned = plan_evening(
        table,
        Limit(no_bends=wishes.no_bends),
        rules,
        wishes.sets,
        wishes.minutes,
        wishes.title,
        HarpWishes(),
    )
    with open_shelf(task.shelf, make=False) as shelf, shelf.change():
        numbers = [_number(entry.tune) for each in planned.evening.sets for entry in each.entries]
        text = evening_toml(planned.evening, lambda tune: shelf.item(_number(tune)).uid)
        kept = keep_evening(shelf, unused_name(shelf, wishes.title), text, numbers, "planned")
    notices = [f"About {max(1, round(planned.seconds / 60))} minutes with breaks."]
    if planned.short_of:
        notices.append(f"Other sets could be better by {planned.short_of:.2f} at most.")
    notices += [f"Not played: {each.tune.title}: {each.why}." for each in planned.left_out]
    return Outcome(
        facts={"list": kept.id, "left_out": len(planned.left_out)},
        notices=tuple(notices),
        go=f"/sets/{kept.id}",
    )


def as_tune(shelf: Shelf, item: Item) -> Tune:
    """A tune that says where on the shelf it stands."""
    return replace(tune_of(shelf, item), source=f"{SOURCE}{item.id}")


def _number(tune: Tune) -> int:
    return int(tune.source.removeprefix(SOURCE))


def playable(shelf: Shelf, items: Sequence[Item]) -> list[Tune]:
    """The tunes that have notes. Raises `ShelfError` where there are none."""
    tunes = [as_tune(shelf, item) for item in items]
    found = [tune for tune in tunes if any(bar.notes for bar in tune.bars)]
    if not found:
        raise ShelfError("There are no tunes with notes in it yet. Add some first.")
    return found


def owned(shelf: Shelf) -> tuple[Harp, ...]:
    """The harps on the shelf. Raises `ShelfError` where there are none."""
    found = tuple(dict.fromkeys(harp for _, harp in harps_on(shelf)))
    if not found:
        raise ShelfError("There are no harps of yours on the shelf yet; add them on the bench.")
    return found


def kept_evening(shelf: Shelf, item: Item) -> Evening:
    """An evening of the shelf, with tunes that were taken off since. Raises `SetsError`."""
    items = (*tunes_of(shelf, item.id), *tunes_gone_from(shelf, item.id))
    by_uid = {each.uid: as_tune(shelf, each) for each in items}
    return evening_from_toml(item.state.text, list(by_uid.values()), by_uid, item.name)


def set_sheet(evening: Evening, paper: str, player: str = "player") -> bytes:
    """The sheet for the stand, as PDF."""
    from reedwright.page.setsheet.sheet import set_sheet_pdf

    return set_sheet_pdf(evening, load_profile(player), paper)
