"""The exact search engine: what every layout does to every tune, on all cores.

Tunes are worked out in small chunks by processes of their own. What is done is kept in a file, if
one is named, at times and when the work is stopped; the same call goes on from there.

Public: `Problem`, `prepare`, `TuneRow`, `Table`, `solve_tune`, `solve_some`, `solve`, `usage`.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from pathlib import Path

from reedwright.processes import cores
from reedwright.workshop.search.crew import chunks_solved
from reedwright.workshop.search.filling import Chunk, Progress, filled
from reedwright.workshop.search.model import Layout
from reedwright.workshop.search.problem import Problem, prepare
from reedwright.workshop.search.rows import Table, TuneRow
from reedwright.workshop.search.tunesolving import Bench, solved
from reedwright.workshop.search.usage import usage

__all__ = [
    "Problem",
    "Progress",
    "Table",
    "TuneRow",
    "prepare",
    "solve",
    "solve_some",
    "solve_tune",
    "usage",
]


def solve_tune(problem: Problem, index: int, layouts: Sequence[Layout]) -> TuneRow:
    """One tune on layouts, in their order."""
    return solve_some(problem, [index], layouts)[0]


def solve_some(
    problem: Problem, indices: Sequence[int], layouts: Sequence[Layout]
) -> list[TuneRow]:
    """Some tunes on layouts. What serves all tunes is kept for the next call alike."""
    bench = _bench(problem, layouts)
    return [solved(problem.tunes[index], bench) for index in indices]


def solve(
    problem: Problem,
    layouts: Sequence[Layout],
    progress: Progress | None = None,
    workers: int | None = None,
    saved: Path | None = None,
) -> Table:
    """Every tune on every layout.

    `workers`: processes; all cores where not said. `saved`: the file that keeps what is done.
    Raises `NotThisSearch` and `DamagedCheckpoint` for a file that cannot be gone on with,
    `NotWritten`, and `WorkersLost`.
    """
    layouts = tuple(layouts)

    def chunks(left: list[int]) -> Generator[Chunk, None, None]:
        return chunks_solved(problem, layouts, left, workers or cores())

    return filled(problem, layouts, chunks, progress, saved)


_kept: list[tuple[Problem, Sequence[Layout], Bench]] = []


def _bench(problem: Problem, layouts: Sequence[Layout]) -> Bench:
    for known, same, bench in _kept:
        if known is problem and same is layouts:
            return bench
    bench = Bench(problem, layouts)
    _kept[:] = [(problem, layouts, bench)]
    return bench
