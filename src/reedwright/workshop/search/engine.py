"""The exact search engine: what every layout does to every tune, on all cores.

Tunes are worked out in small chunks by processes of their own. What is done is kept in a file, if
one is named, at times and when the work is stopped; the same call goes on from there.

Public: `Problem`, `prepare`, `TuneRow`, `Table`, `solve_tune`, `solve_some`, `solve`, `usage`.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from reedwright.workshop.search.checkpoint import Checkpoint
from reedwright.workshop.search.crew import chunks_solved
from reedwright.workshop.search.model import Layout
from reedwright.workshop.search.problem import Problem, digest, prepare
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

Progress = Callable[[float, str], None]
"""Called with the share that is done, 0 to 1, and words for people."""

SAVED_EVERY = 15.0
"""Seconds between two savings; a saving of the largest tables takes some tenths of one."""


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
    shape = (len(problem.tunes), len(layouts))
    table = Table(
        np.zeros(shape, np.int32),
        np.zeros(shape, np.int64),
        np.zeros(shape, np.bool_),
        np.array([tune.chain.played for tune in problem.tunes], np.int32),
    )
    done = np.zeros(shape[0], np.bool_)
    keep = None
    if saved is not None:
        keep = Checkpoint(saved, {**problem.fingerprints, "layouts": digest(layouts)})
        done = keep.load(table)
        # At once, so that a place that cannot be written to is known before the work.
        keep.save(table, done)
    _fill(problem, layouts, table, done, progress, workers or cores(), keep)
    return table


def cores() -> int:
    """How many processes this one may use at once."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1


def _fill(
    problem: Problem,
    layouts: tuple[Layout, ...],
    table: Table,
    done: NDArray[np.bool_],
    progress: Progress | None,
    workers: int,
    keep: Checkpoint | None,
) -> None:
    """Work out the rows that are not done."""
    total = len(done)

    def tell() -> None:
        if progress:
            count = int(done.sum())
            progress(count / max(total, 1), f"{count} of {total} tunes")

    tell()
    left = np.nonzero(~done)[0].tolist()
    last = time.monotonic()
    unsaved = False
    try:
        for indices, rows in chunks_solved(problem, layouts, left, workers):
            for index, row in zip(indices, rows, strict=True):
                table.missing[index], table.units[index], table.plain[index] = row
                done[index] = unsaved = True
            if keep is not None and time.monotonic() - last > SAVED_EVERY:
                keep.save(table, done)
                last, unsaved = time.monotonic(), False
            tell()
    finally:
        if keep is not None and unsaved:
            keep.save(table, done)


_kept: list[tuple[Problem, Sequence[Layout], Bench]] = []


def _bench(problem: Problem, layouts: Sequence[Layout]) -> Bench:
    for known, same, bench in _kept:
        if known is problem and same is layouts:
            return bench
    bench = Bench(problem, layouts)
    _kept[:] = [(problem, layouts, bench)]
    return bench
