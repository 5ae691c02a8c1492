"""The whole search: every layout on every tune, the best of them, and beyond two reeds the beam.

Where the numbers come from is the caller's choice: `Solve` works out what layouts do to the
tunes, on this machine (`engine.solve`) or on a cluster (`cluster`).

Public: `survey`, `Solve`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Reed
from reedwright.workshop.search.choosing import (
    Rows,
    Scores,
    by_effort,
    by_plain,
    found,
    frontier,
    scores_of,
)
from reedwright.workshop.search.layouts import MOST_LISTED, all_layouts, free_reeds
from reedwright.workshop.search.model import Found, Layout, SearchResult, SearchWishes

Solve = Callable[[Sequence[Layout], str], Rows]
"""What layouts do to all tunes. The text says what the stage of the work is, for the bar."""

KEPT = 50
"""Layouts that are kept of each number of reeds, by effort and by tunes with no bends."""


def survey(
    titles: Sequence[str],
    wishes: SearchWishes,
    usage: Mapping[Reed, int],
    solve: Solve,
    kept: int = KEPT,
) -> SearchResult:
    """The best layouts for a repertoire.

    `usage`: notes played today on each reed. `titles` of the tunes in the order of the rows that
    `solve` gives. Raises `ReedwrightError` where no reed is left to change.
    """
    began = time.monotonic()
    free = len(free_reeds(wishes))
    if not free:
        raise ReedwrightError("every reed is to be kept; leave some free to change")
    exact = min(wishes.reeds, free, MOST_LISTED)
    layouts = all_layouts(replace(wishes, reeds=exact))
    scores = scores_of(solve(layouts, "trying every layout"), layouts, usage)
    return result_of(titles, wishes, scores, kept, exact, {}, time.monotonic() - began)


def result_of(
    titles: Sequence[str],
    wishes: SearchWishes,
    scores: Scores,
    kept: int,
    exact: int,
    bounds: dict[int, float],
    seconds: float,
) -> SearchResult:
    """What is told of the scores; the unchanged tuning must be among them."""
    base = scores.layouts.index(())
    today = scores.tunes[:, base]
    counts = range(1, int(scores.reeds.max()) + 1)

    def told(indexes: np.ndarray) -> tuple[Found, ...]:
        return tuple(found(scores, int(index), today) for index in indexes)

    return SearchResult(
        wishes=wishes,
        titles=tuple(titles),
        base=scores.score(base),
        best=tuple(told(by_effort(scores, count)[:kept]) for count in counts),
        plainest=tuple(told(by_plain(scores, count)[:kept]) for count in counts),
        frontier=told(frontier(scores)),
        exact=exact,
        bounds=bounds,
        layouts=len(scores.layouts),
        seconds=seconds,
    )
