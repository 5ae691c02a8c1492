"""In what order reeds are worked on, so that the harp is opened sensibly.

Common practice, no source: swaps go first, since a new reed has to be centred and settles longest.
Then the reeds that go far, be it to another note or to another temperament or pitch, on one plate
after the other, the larger changes before the smaller, each left a little short. Metal that was
filed, heated or riveted goes on moving for hours, so the harp rests. Then it is finished hole by
hole, both reeds of a hole together, since one leaks and bends by the other; reeds that only need a
touch have their turn here. Octaves and chords come last.

Public: `Stage`, `stage_of`, `bench_key`, `SETTLE_HOURS`, `SHORT_BY`, `AT_ONCE`.
"""

from __future__ import annotations

from enum import StrEnum

from reedwright.harp.model import Breath
from reedwright.workshop.conversion.model import ReedWork, Work
from reedwright.workshop.conversion.reeds import Draft

SETTLE_HOURS = 12  # overnight; a few hours are said to do for small changes
SHORT_BY = 5.0  # cents left for the finish, after the metal has settled
AT_ONCE = 2 * SHORT_BY  # cents; no more is done at one turn. Judgement


class Stage(StrEnum):
    """The stages of the work on a harp; `SETTLE` and `CHORDS` have no reeds of their own."""

    SWAP = "swap reeds"
    COARSE = "move the reeds, a little short"
    SETTLE = "let it settle"
    FINE = "finish, hole by hole"
    CHORDS = "octaves and chords"


def stage_of(draft: Draft | ReedWork) -> Stage:
    """In which stage a reed has its first turn: by how far it goes, not by its note's name."""
    if draft.work is Work.SWAP:
        return Stage.SWAP
    return Stage.COARSE if abs(draft.cents) > AT_ONCE else Stage.FINE


def bench_key(draft: Draft) -> tuple[int, int, int, int, int]:
    """Drafts in this order are in bench order.

    The blow plate comes first: it has to come off the comb, as its reeds lie inside.
    """
    stage = tuple(Stage).index(stage_of(draft))
    draw = int(draft.reed.breath is Breath.DRAW)
    if stage_of(draft) is Stage.FINE:
        return stage, 0, 0, draft.reed.hole, draw
    steps = 0 if draft.work is Work.SWAP else -round(abs(draft.cents) / 100)
    return stage, draw, steps, draft.reed.hole, 0
