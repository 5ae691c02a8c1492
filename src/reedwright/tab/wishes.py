"""What is asked of an arrangement besides tune, harp and player, note by note.

This is what the arranger works with. What a teacher writes down, tied to part, bar, beat and
pitch, is in `choices`, which finds the notes and makes wishes of it.

Public: `Wishes`, `NO_WISHES`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from reedwright.harp.model import Sounding
from reedwright.tab.ornaments.model import Amount, OrnamentKind


@dataclass(frozen=True, slots=True)
class Wishes:
    """All by id of a written note of the tune (moved as asked, written out if `second_time`).

    `fixed`: the way that must be taken, also with a technique that the player has not.
    `forbidden`: ways that must not. `amount`: how much ornament; `second_time`: repeats are
    written out and the second time is ornamented otherwise. `ornaments`: the kind that must
    stand on a note, None for no ornament there. `breaths`: breathe after the note (True) or
    never there (False).
    """

    fixed: Mapping[str, Sounding] = field(default_factory=dict)
    forbidden: Mapping[str, frozenset[Sounding]] = field(default_factory=dict)
    amount: Amount = Amount.WRITTEN
    second_time: bool = False
    ornaments: Mapping[str, OrnamentKind | None] = field(default_factory=dict)
    breaths: Mapping[str, bool] = field(default_factory=dict)


NO_WISHES = Wishes()
