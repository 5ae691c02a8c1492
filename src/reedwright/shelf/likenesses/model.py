"""Settings of one tune, as the shelf knows them.

Public: `Verdict`, `Offer`, `RULES`, `NotAPair`.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from reedwright.shelf.model import ShelfError
from reedwright.tune.likeness.differing import Differing

RULES = 1
"""Version of the rules; tunes that were compared by older ones are compared again."""


class NotAPair(ShelfError):
    """Two numbers that are not those of two tunes on the shelf."""


class Verdict(StrEnum):
    """What is known of two tunes: found alike, or judged by somebody."""

    OFFERED = "offered"
    SETTINGS = "settings"
    OTHER_TUNES = "other tunes"


@dataclass(frozen=True, slots=True)
class Offer:
    """Two tunes that may be settings of one tune: their numbers on the shelf and titles, a
    score from 0 to 1, and how the second differs from the first."""

    one: int
    other: int
    title: str
    other_title: str
    score: float
    differing: Differing
    verdict: Verdict = Verdict.OFFERED
