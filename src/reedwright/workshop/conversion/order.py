"""In what order reeds are worked on, so that the harp is opened sensibly.

Common practice, no source: swaps go first, since a new reed has to be centred and settles longest.
Then the reeds that change their note, on one plate after the other, the larger changes before the
smaller, each left a little short. Metal that was filed, heated or riveted goes on moving for hours,
so the harp rests. Then it is finished hole by hole, both reeds of a hole together, since one
leaks and bends by the other; reeds that only need a touch have their turn here. Octaves and chords
come last.

Public: `Stage`, `stage_of`, `bench_key`, `SETTLE_HOURS`.
"""

from __future__ import annotations

from enum import StrEnum

from reedwright.harp.model import Breath
from reedwright.workshop.conversion.model import Work
from reedwright.workshop.conversion.reeds import Draft

SETTLE_HOURS = 12  # overnight; a few hours are said to do for small changes


class Stage(StrEnum):
    """The stages of the work on a harp; `SETTLE` and `CHORDS` have no reeds of their own."""

    SWAP = "swap reeds"
    COARSE = "change the notes, a little short"
    SETTLE = "let it settle"
    FINE = "finish, hole by hole"
    CHORDS = "octaves and chords"


def stage_of(work: Work) -> Stage:
    """In which stage a reed has its first turn."""
    if work is Work.SWAP:
        return Stage.SWAP
    return Stage.FINE if work is Work.TOUCH else Stage.COARSE


def bench_key(draft: Draft) -> tuple[int, int, int, int, int]:
    """Drafts in this order are in bench order.

    The blow plate comes first: it has to come off the comb, as its reeds lie inside.
    """
    stage = tuple(Stage).index(stage_of(draft.work))
    draw = int(draft.reed.breath is Breath.DRAW)
    if draft.work is Work.TOUCH:
        return stage, 0, 0, draft.reed.hole, draw
    steps = 0 if draft.work is Work.SWAP else -round(abs(draft.cents) / 100)
    return stage, draw, steps, draft.reed.hole, 0
