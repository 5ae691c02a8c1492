"""Grades for a table of efforts: how hard each tune is on each harp (docs/difficulty.md).

A grade needs the tune arranged, some hundredth of a second for each tune, harp and move; so only
those are graded that the other limits leave.

Public: `graded_efforts`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Harp
from reedwright.player.profile import Profile
from reedwright.tab.sets.efforts import EffortTable, Progress
from reedwright.tab.sets.wishes import HarpWishes, Limit, within_limit
from reedwright.tune.model import Tune


class _Asked(NamedTuple):
    """`tempo` in quarter notes a minute; None for each tune's own."""

    profile: Profile
    tempo: float | None


def graded_efforts(
    table: EffortTable,
    profile: Profile,
    limit: Limit | None = None,
    wishes: HarpWishes | None = None,
    quarters_per_minute: float | None = None,
    progress: Progress | None = None,
) -> EffortTable:
    """The table with grades, as `Limit.grade` needs them.

    Graded is what plays a tune within `limit` (its own grade aside) on a harp that `wishes` allow.
    `profile` and `quarters_per_minute` as the table was worked out with.
    """
    asked = _Asked(profile, quarters_per_minute)
    allow = wishes or HarpWishes()
    takes = np.array([allow.takes(harp) for harp in table.harps], bool)
    within = within_limit(table, replace(limit or Limit(), grade=None), takes)
    within &= takes[:, None]
    grades = np.full(within.shape, np.nan)
    for tune in range(len(table.tunes)):
        known: dict[tuple[object, ...], float] = {}
        for harp, move in np.argwhere(within[tune]):
            grades[tune, harp, move] = _grade(
                asked, table.tunes[tune], table.harps[harp], table.moves[move], known
            )
        if progress is not None:
            progress(tune + 1, len(table.tunes))
    return replace(table, grade=grades)


def _grade(
    asked: _Asked,
    tune: Tune,
    harp: Harp,
    move: Sequence[int],
    known: dict[tuple[object, ...], float],
) -> float:
    """A harp a tone higher with the tune a tone higher is played alike: it is graded once."""
    from reedwright.tab.arrange import arrange
    from reedwright.tab.difficulty.grade import difficulty

    octaves, semitones = move
    alike = (harp.tuning, harp.isolated, 12 * octaves + semitones - harp.transpose)
    if alike not in known:
        try:
            arrangement = arrange(
                tune,
                harp,
                asked.profile,
                octaves=octaves,
                semitones=semitones,
                quarters_per_minute=asked.tempo,
            )
        except ReedwrightError:  # moved out of what can be written
            return float("nan")
        known[alike] = difficulty(arrangement).grade
    return known[alike]
