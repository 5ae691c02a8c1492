"""Bars that a take comes to, with the notes in them that were heard and those that were not."""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple


class Visit(NamedTuple):
    """A place of the score that the take comes to; the heard note that plays it, or None."""

    place: int
    heard: int | None


@dataclass(slots=True)
class PlayedBar:
    """A bar that the take comes to. `run` is that of the path. `whole`: from end to end.

    `cut` is how much shorter it is than written.
    """

    bar: int
    run: int
    visits: list[Visit] = field(default_factory=list)
    cut: Fraction = Fraction(0)
    whole: bool = True

    @property
    def heard(self) -> list[int]:
        return [visit.heard for visit in self.visits if visit.heard is not None]
