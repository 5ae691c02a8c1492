"""The arrangement on the harp that a tune lies best on.

Public: `arrange_on_best`, `easiest`, `NoHarp`.
"""

from __future__ import annotations

from collections.abc import Sequence

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Harp
from reedwright.player.profile import Profile
from reedwright.tab.arrange import arrange
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.ranking import RankedHarp, best_harp
from reedwright.tune.model import Tune
from reedwright.tune.transpose import transposed


class NoHarp(ReedwrightError):
    """There is no harp to choose from, or nothing to play."""


def easiest(
    tune: Tune,
    player: Profile,
    harps: Sequence[Harp] | None = None,
    voice: int = 0,
    octaves: Sequence[int] = (-1, 0, 1),
    quarters_per_minute: float | None = None,
    semitones: int = 0,
) -> RankedHarp:
    """The harp (of all, or of those given) that the tune lies best on.

    `semitones`: by which the tune is moved to another key first. Raises `NoHarp` where the
    tune has no notes or no harp was given, `OutOfRange` (see `transposed`).
    """
    moved = transposed(tune, semitones=semitones)
    best = best_harp(moved, player, harps, voice, octaves, quarters_per_minute=quarters_per_minute)
    if best is None:
        raise NoHarp(f"{tune.title}: no harp to choose from, or no notes to play.")
    return best


def arrange_on_best(
    tune: Tune,
    player: Profile,
    harps: Sequence[Harp] | None = None,
    voice: int = 0,
    octaves: Sequence[int] = (-1, 0, 1),
    quarters_per_minute: float | None = None,
    semitones: int = 0,
) -> Arrangement:
    """Arrange on the `easiest` harp, the tune moved by its octaves. Raises as that does.

    `quarters_per_minute`: None for the tune's own tempo or its type's.
    """
    best = easiest(tune, player, harps, voice, octaves, quarters_per_minute, semitones)
    return arrange(
        tune,
        best.harp,
        player,
        voice=voice,
        octaves=best.octaves,
        semitones=semitones,
        quarters_per_minute=quarters_per_minute,
    )
