"""The whole search: every layout on every tune, the best of them, and beyond that the beam.

All layouts of one and two changed reeds are tried; of more, while they are not too many for the
tunes, or as far as is asked for. Beyond, `beyond` goes on from the best. Where the
numbers come from is the caller's choice: `Solve` works out what layouts do to the tunes, on
this machine (`engine.solve`) or on a cluster (`cluster`).

Public: `survey`, `Solve`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import partial

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Reed
from reedwright.workshop.search.beyond import extended
from reedwright.workshop.search.bounds import least_effort
from reedwright.workshop.search.choosing import (
    Counts,
    Rows,
    Scores,
    by_effort,
    by_plain,
    earning,
    found,
    frontier,
    joined,
    scores_of,
)
from reedwright.workshop.search.layouts import all_layouts, free_reeds, layouts_of
from reedwright.workshop.search.model import Found, Layout, SearchResult, SearchWishes
from reedwright.workshop.search.plainness import count_layouts, plainest
from reedwright.workshop.search.problem import Problem

Solve = Callable[[Sequence[Layout], str], Rows]
"""What layouts do to all tunes. The text says what the stage of the work is, for the bar."""

Progress = Callable[[float, str], None]

KEPT = 50
"""Layouts that are kept of each number of reeds, by effort and by tunes with no bends."""

ALWAYS_EXACT = 2
"""Reeds changed for which every layout is tried, however many tunes there are."""

MOST_CELLS = 30_000_000
"""Layouts times tunes up to which all layouts of more than two reeds are tried: some minutes."""

BLOCK_CELLS = 8_000_000
"""Layouts times tunes that are worked out as one piece: about a hundred megabytes."""

BLOCK_LAYOUTS = 50_000
"""Layouts of one piece at most; every process holds tables of them."""


def survey(
    titles: Sequence[str],
    problem: Problem,
    usage: Mapping[Reed, int],
    solve: Solve,
    exact: int = 0,
    kept: int = KEPT,
    most_cells: int = MOST_CELLS,
    progress: Progress | None = None,
) -> SearchResult:
    """The best layouts for a repertoire.

    `titles` of the problem's tunes. `usage`: notes played today on each reed. `exact`: up to how
    many reeds all layouts are tried however many they are. Raises `ReedwrightError` where no
    reed is left to change.
    """
    began = time.monotonic()
    wishes = problem.wishes
    free = len(free_reeds(wishes))
    if not free:
        raise ReedwrightError("every reed is to be kept; leave some free to change")
    tunes = max(len(problem.tunes), 1)

    def judged(layouts: Sequence[Layout], stage: str) -> Scores:
        size = max(min(BLOCK_CELLS // tunes, BLOCK_LAYOUTS), 1)
        blocks = [layouts[at : at + size] for at in range(0, len(layouts), size)]
        several = len(blocks) > 1
        return joined(
            scores_of(
                solve(block, f"{stage}, part {number} of {len(blocks)}" if several else stage),
                block,
                usage,
            )
            for number, block in enumerate(blocks, start=1)
        )

    def bounds_told(share: float) -> None:
        if progress is not None:
            progress(share, "what is beyond any layout")

    most = min(wishes.reeds, free)
    listed = min(most, ALWAYS_EXACT)
    scores = judged(all_layouts(replace(wishes, reeds=listed)), _stage(listed))
    proven = listed
    bounds: dict[int, float] = {}
    plain_bounds: dict[int, int] = {}
    for reeds in range(listed + 1, most + 1):
        count = count_layouts(wishes, reeds)
        if proven == reeds - 1 and (reeds <= exact or count * tunes <= most_cells):
            scores = joined([scores, judged(list(layouts_of(wishes, reeds)), _stage(reeds))])
            proven = reeds
            continue
        most_plain = plainest(problem, reeds, kept)
        if most_plain is not None:
            plain_bounds[reeds] = most_plain.most
        bounds[reeds] = least_effort(problem, reeds, bounds_told)
        scores = extended(
            wishes,
            scores,
            reeds,
            partial(judged, stage=_stage(reeds)),
            most_plain.layouts if most_plain else (),
        )
    seconds = time.monotonic() - began
    return result_of(titles, wishes, scores, kept, proven, bounds, plain_bounds, seconds)


def _stage(reeds: int) -> str:
    return "one reed" if reeds == 1 else f"{reeds} reeds"


def result_of(
    titles: Sequence[str],
    wishes: SearchWishes,
    scores: Scores,
    kept: int,
    exact: int,
    bounds: dict[int, float],
    plain_bounds: dict[int, int],
    seconds: float,
) -> SearchResult:
    """What is told of the scores; the unchanged tuning must be among them."""
    base = scores.layouts.index(())
    today = scores.tunes[:, base]
    counts = range(1, int(scores.reeds.max()) + 1)

    def told(indexes: Counts) -> tuple[Found, ...]:
        return tuple(found(scores, int(index), today) for index in indexes)

    return SearchResult(
        wishes=wishes,
        titles=tuple(titles),
        base=scores.score(base),
        best=tuple(told(_worth(scores, by_effort(scores, count))[:kept]) for count in counts),
        plainest=tuple(told(_worth(scores, by_plain(scores, count))[:kept]) for count in counts),
        frontier=told(frontier(scores)),
        exact=exact,
        bounds=bounds,
        plain_bounds=plain_bounds,
        layouts=len(scores.layouts),
        seconds=seconds,
    )


def _worth(scores: Scores, indexes: Counts) -> Counts:
    kept: Counts = indexes[earning(scores, indexes)]
    return kept
