"""A table of tunes and layouts, filled as chunks of rows come in, kept and gone on with.

Where the chunks come from, the cores of this machine or a cluster, is handed in.

Public: `filled`, `Chunk`, `Progress`, `SAVED_EVERY`.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Generator, Sequence
from contextlib import closing
from pathlib import Path

import numpy as np

from reedwright.workshop.search.checkpoint import Checkpoint
from reedwright.workshop.search.model import Layout
from reedwright.workshop.search.problem import Problem, digest
from reedwright.workshop.search.rows import Table, TuneRow

Progress = Callable[[float, str], None]
"""Called with the share that is done, 0 to 1, and words for people."""

Chunk = tuple[list[int], list[TuneRow]]
"""Indexes of tunes, and their rows."""

SAVED_EVERY = 15.0
"""Seconds between two savings; a saving of the largest tables takes some tenths of one."""


def filled(
    problem: Problem,
    layouts: Sequence[Layout],
    solved: Callable[[list[int]], Generator[Chunk, None, None]],
    progress: Progress | None,
    saved: Path | None,
) -> Table:
    """Every tune on every layout; `solved` gives the chunks of the tunes that are still to do.

    `saved` is written at once, so that a place that cannot be written to is known before the
    work, every `SAVED_EVERY` seconds, and at the end, whatever ends it. Raises `NotThisSearch`
    and `DamagedCheckpoint` for a file that cannot be gone on with, `NotWritten`, and what
    `solved` raises.
    """
    table = _empty(problem, len(layouts))
    done = np.zeros(len(problem.tunes), np.bool_)
    keep = None
    if saved is not None:
        keep = Checkpoint(saved, {**problem.fingerprints, "layouts": digest(layouts)})
        done = keep.load(table)
        keep.save(table, done)

    def tell() -> None:
        if progress:
            count = int(done.sum())
            progress(count / max(len(done), 1), f"{count} of {len(done)} tunes")

    tell()
    left = np.nonzero(~done)[0].tolist()
    if not left:
        return table
    last = time.monotonic()
    unsaved = False
    with closing(solved(left)) as chunks:
        try:
            for indices, rows in chunks:
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
    return table


def _empty(problem: Problem, layouts: int) -> Table:
    shape = (len(problem.tunes), layouts)
    return Table(
        np.zeros(shape, np.int32),
        np.zeros(shape, np.int64),
        np.zeros(shape, np.bool_),
        np.array([tune.chain.played for tune in problem.tunes], np.int32),
    )
