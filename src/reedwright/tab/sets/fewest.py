"""The fewest harps that play a list of tunes, exactly, and what one harp less costs.

A list is played by some harps where each tune is within the limit on one of them. Of all such
choices the one that counts least is taken (each harp as one, owned ones less where wished), of
those the one with the least effort, where each tune counts alike however long: the sum over the
tunes of effort a note on the easiest of the harps. What is equal still goes by the order of the
harps.

Public: `fewest_harps`, `frontier`, `HarpChoice`, `OnHarp`, `LeftOut`, `Step`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Harp
from reedwright.tab.sets.efforts import EffortTable
from reedwright.tab.sets.programme import LONGEST_SECONDS, Programme, Solved
from reedwright.tab.sets.wishes import (
    THOUSANDTHS,
    Allowed,
    HarpWishes,
    Limit,
    SetsError,
    allowed,
    is_odd,
)
from reedwright.tab.words import counted, listed
from reedwright.tune.model import Tune

MOST_STEPS = 12  # harps; a case of every key


@dataclass(frozen=True, slots=True)
class OnHarp:
    """A tune (its place in the list too) on the harp that it is played on, moved by octaves and
    semitones. `effort_per_note`, `bends`, `overblows`, `missing` as in `RankedHarp`."""

    place: int
    tune: Tune
    harp: Harp
    octaves: int
    semitones: int
    effort_per_note: float
    bends: int
    overblows: int
    missing: int


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A tune (its place in the list too) that is not played, and why."""

    place: int
    tune: Tune
    why: str


@dataclass(frozen=True, slots=True)
class HarpChoice:
    """Harps in the order in which they were given, and each tune on the easiest of them.

    `counts`: what the harps count, in harps. `effort`: sum over the tunes played of effort a note,
    each rounded to thousandths. `proven`: whether no choice is better; else `gap` says by how much
    one could be at most (tunes left out, harps counted, effort).
    """

    harps: tuple[Harp, ...]
    tunes: tuple[OnHarp, ...]
    left_out: tuple[LeftOut, ...]
    counts: float
    effort: float
    proven: bool
    gap: tuple[int, float, float]

    @property
    def effort_per_note(self) -> float:
        """The mean over the tunes played; 0 where there are none."""
        return self.effort / len(self.tunes) if self.tunes else 0.0

    @property
    def worst(self) -> OnHarp | None:
        """The tune that takes most effort a note; the first of equals."""
        return max(self.tunes, key=lambda each: each.effort_per_note, default=None)

    def of(self, harp: Harp) -> tuple[OnHarp, ...]:
        """The tunes on this harp, in the order of the list."""
        return tuple(each for each in self.tunes if each.harp == harp)


@dataclass(frozen=True, slots=True)
class Step:
    """The best choice with so many harps at most, and what it brings beside one with fewer.

    `gained`: tunes that can be played now and could not before. `saved`: effort a note, as a mean
    over the tunes played both before and now. `most_on`: those that it saves most on, most first.
    """

    most: int
    choice: HarpChoice
    gained: tuple[Tune, ...] = ()
    saved: float = 0.0
    most_on: tuple[Tune, ...] = ()

    @property
    def words(self) -> str:
        """What the step brings, in a sentence."""
        harps = counted(self.most, "harp")
        if self.most == 0 or not (self.gained or self.saved > 0):
            return f"{harps}: {counted(len(self.choice.tunes), 'tune')} can be played."
        said = []
        if self.gained:
            said.append(f"{counted(len(self.gained), 'tune')} more can be played")
        if self.saved > 0.0:
            where = f", most on {listed([tune.title for tune in self.most_on])}"
            said.append(f"saves {self.saved:.2f} effort a note{where if self.most_on else ''}")
        return f"{harps}: {'; '.join(said)}."


def fewest_harps(
    table: EffortTable,
    limit: Limit | None = None,
    wishes: HarpWishes | None = None,
    seconds: float = LONGEST_SECONDS,
) -> HarpChoice:
    """The harps that count least and play all that can be played.

    Tunes that no harp allowed plays within the limit are left out, with the reason. Where `wishes`
    ask for so few harps that more must be left out, as few are as can be. `seconds`: the
    longest that each of the four aims is searched. Raises `SetsError` where a harp that must be
    taken is not in the table, or where the wishes contradict each other.
    """
    asked = _Asked(table, limit or Limit(), wishes or HarpWishes(), seconds)
    return asked.choice(asked.solved(asked.wishes.most, by_effort=False))


def frontier(
    table: EffortTable,
    limit: Limit | None = None,
    wishes: HarpWishes | None = None,
    most: int = MOST_STEPS,
    seconds: float = LONGEST_SECONDS,
) -> tuple[Step, ...]:
    """The best choice for one harp, two harps and so on, as long as another one brings anything.

    Each step plays as many tunes as can be, then with the least effort; what owned harps count
    does not matter. It begins at the number of harps that must be taken, at one at least. Raises
    as `fewest_harps`.
    """
    asked = _Asked(table, limit or Limit(), wishes or HarpWishes(), seconds)
    if asked.wishes.most is not None:
        most = min(most, asked.wishes.most)
    steps: list[Step] = []
    for number in range(max(1, len(set(asked.wishes.must))), most + 1):
        choice = asked.choice(asked.solved(number, by_effort=True))
        if not steps:
            steps.append(Step(number, choice))
            continue
        before = steps[-1].choice
        if len(choice.harps) <= len(before.harps):
            break
        steps.append(_step(number, choice, before))
    return tuple(steps)


def harps_for(table: EffortTable, limit: Limit, wishes: HarpWishes) -> tuple[int, ...]:
    """Places of the harps, `wishes.most` at most, that play most of the list with least effort."""
    return _Asked(table, limit, wishes, LONGEST_SECONDS).solved(wishes.most, by_effort=True).harps


def why_left_out(table: EffortTable, limit: Limit, wishes: HarpWishes, tune: int) -> str:
    """Why no harp that may be taken plays a tune within the limit."""
    return _Asked(table, limit, wishes, LONGEST_SECONDS).why(tune)


_MOST_NAMED = 2  # tunes that a step saves most on, or harps that would do


def _step(number: int, choice: HarpChoice, before: HarpChoice) -> Step:
    earlier = {each.place: each for each in before.tunes}
    gained = tuple(each.tune for each in choice.tunes if each.place not in earlier)
    both = [each for each in choice.tunes if each.place in earlier]
    saves = {
        each.place: earlier[each.place].effort_per_note - each.effort_per_note for each in both
    }
    saved = sum(saves.values()) / len(both) if both else 0.0
    most = sorted(
        (each for each in both if saves[each.place] > 0), key=lambda each: -saves[each.place]
    )
    return Step(number, choice, gained, saved, tuple(each.tune for each in most[:_MOST_NAMED]))


class _Asked:
    """A question: the table with its limit, and the harps that may be taken."""

    def __init__(
        self, table: EffortTable, limit: Limit, wishes: HarpWishes, seconds: float
    ) -> None:
        self.table, self.limit, self.wishes = table, limit, wishes
        for harp in wishes.must:
            if harp not in table.harps:
                raise SetsError(
                    f"The {harp.name} is to be taken, but the tunes were not tried on it; "
                    "name it among the harps."
                )
        self.takes = np.array([wishes.takes(harp) for harp in table.harps], bool)
        self.within: Allowed = allowed(table, limit, self.takes)
        odd = np.array([is_odd(harp) for harp in table.harps], bool)
        must = np.array([harp in wishes.must for harp in table.harps], bool)
        if wishes.most_odd is not None and int((odd & must).sum()) > wishes.most_odd:
            raise SetsError(
                f"{int((odd & must).sum())} harps of odd tunings are to be taken, and "
                f"{wishes.most_odd} at most; allow more or ask for fewer."
            )
        self._programme = Programme(
            self.within.can & self.takes,
            self.within.cost,
            np.array([wishes.counts(harp) for harp in table.harps], np.int64),
            odd,
            must,
            wishes.most_odd,
            seconds,
        )

    def solved(self, most: int | None, by_effort: bool) -> Solved:
        found = self._programme.solve(most, by_effort)
        if found is None:
            raise SetsError(
                "No choice of harps was found in the time given; allow more time or name fewer "
                "harps to choose from."
            )
        return found

    def choice(self, solved: Solved) -> HarpChoice:
        out = set(solved.left_out)
        played = [
            self._on(tune, solved.harps) for tune in range(len(self.table.tunes)) if tune not in out
        ]
        tunes, counts, effort = solved.gap
        return HarpChoice(
            tuple(self.table.harps[place] for place in solved.harps),
            tuple(played),
            tuple(
                LeftOut(place, self.table.tunes[place], self.why(place)) for place in sorted(out)
            ),
            solved.counts / THOUSANDTHS,
            solved.effort / THOUSANDTHS,
            solved.proven,
            (tunes, counts / THOUSANDTHS, effort / THOUSANDTHS),
        )

    def _on(self, tune: int, harps: Sequence[int]) -> OnHarp:
        """The tune on the easiest of the harps, the first of equals."""
        can = [harp for harp in harps if self.within.can[tune, harp]]
        harp = min(can, key=lambda place: int(self.within.cost[tune, place]))
        move = int(self.within.move[tune, harp])
        at = tune, harp, move
        octaves, semitones = self.table.moves[move]
        return OnHarp(
            tune,
            self.table.tunes[tune],
            self.table.harps[harp],
            octaves,
            semitones,
            float(self.table.per_note[at]),
            int(self.table.bends[at]),
            int(self.table.overblows[at]),
            int(self.table.missing[at]),
        )

    def why(self, tune: int) -> str:
        """Why a tune is left out."""
        if tune in self.table.refused:
            return self.table.refused[tune]
        fits = self._easiest_first(tune, self.within.can[tune] & self.takes)
        if fits:
            return f"it needs another harp, such as {self._named(fits)}"
        others = self._easiest_first(tune, self.within.can[tune])
        besides = f"; of harps not wished for, {self._named(others)} would do" if others else ""
        return self._why_on_none(tune) + besides

    def _why_on_none(self, tune: int) -> str:
        """Of a tune that none of the harps that may be taken plays within the limit."""
        takes = np.flatnonzero(self.takes)
        if not takes.size:
            return "no harp may be taken"
        missing = self.table.missing[tune][takes]
        fewest = int(missing.min())
        if fewest > self.limit.missing:
            harp = self.table.harps[int(takes[missing.min(axis=1).argmin()])]
            lacking = counted(fewest, "note")
            return f"no harp has all its notes; {lacking} missing on the {harp.name}"
        effort = np.where(missing <= self.limit.missing, self.table.per_note[tune][takes], np.inf)
        row, move = divmod(int(effort.argmin()), effort.shape[1])
        at = tune, int(takes[row]), move
        needs = [f"{effort.min():.2f} effort a note"]
        if self.limit.grade is not None and self.table.grade is not None:
            grade = self.table.grade[tune][takes]
            easiest = np.nanmin(grade) if np.isfinite(grade).any() else None
            needs += [] if easiest is None else [f"grade {easiest:g} at the least"]
        if self.table.bends[at]:
            needs.append(counted(int(self.table.bends[at]), "bend"))
        if self.table.overblows[at]:
            over = int(self.table.overblows[at])
            needs.append(counted(over, "overblow or overdraw", "overblows or overdraws"))
        return f"easiest on the {self.table.harps[at[1]].name}: {listed(needs)}"

    def _easiest_first(self, tune: int, among: NDArray[np.bool_]) -> list[int]:
        cost = self.within.cost[tune]
        return sorted(map(int, np.flatnonzero(among)), key=lambda place: int(cost[place]))

    def _named(self, harps: Sequence[int]) -> str:
        return listed([self.table.harps[place].name for place in harps[:_MOST_NAMED]], "or")
