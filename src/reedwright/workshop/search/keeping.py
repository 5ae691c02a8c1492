"""Where a search keeps what is done, so that it can be stopped and gone on with.

Each set of layouts that is worked on has one file, named by all that its content follows from:
tunes, player, wishes, layouts. So the same search finds its own file again, finished or
not, and another search never takes it for its own.

Public: `solver`, `work_folder`, `kept_file`, `KEPT_DAYS`.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.files import not_written

if TYPE_CHECKING:
    from reedwright.workshop.search.cluster import Cluster
    from reedwright.workshop.search.engine import Problem, Table
    from reedwright.workshop.search.model import Layout
    from reedwright.workshop.search.survey import Solve

KEPT_DAYS = 30
"""Files that were not touched for so long are removed: our judgement of how long one tries out."""

ENDING = ".search"
_SECONDS_PER_DAY = 86400.0

Progress = Callable[[float, str], None]


def work_folder(named: Path | None) -> Path:
    """The folder, made where it is not there yet. Raises `NotWritten`."""
    import platformdirs

    folder = named or Path(platformdirs.user_cache_dir("reedwright")) / "searches"
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise not_written(folder, error) from error
    return folder


def kept_file(folder: Path, problem: Problem, layouts: Sequence[Layout]) -> Path:
    """The file of one problem and one set of layouts."""
    digest = hashlib.sha256(problem.fingerprint.encode())
    digest.update(repr(tuple(layouts)).encode())
    return folder / f"{digest.hexdigest()[:24]}{ENDING}"


def solver(
    problem: Problem,
    named: Path | None,
    jobs: int | None,
    progress: Progress | None = None,
    machines: Cluster | None = None,
) -> Solve:
    """What works out layouts: on this machine with so many `jobs`, or on a cluster.

    `named`: the folder to keep work in, if not ours. Raises `NotWritten`.
    """
    from reedwright.workshop.search.engine import solve

    folder = work_folder(named)
    _remove_old(folder)

    def solve_all(layouts: Sequence[Layout], stage: str) -> Table:
        def told(share: float, doing: str) -> None:
            if progress is not None:
                progress(share, f"{stage}: {doing}")

        path = kept_file(folder, problem, layouts)
        if machines is not None:
            return machines.solve(problem, layouts, told, path)
        return solve(problem, layouts, told, jobs, path)

    return solve_all


def _remove_old(folder: Path) -> None:
    """Only our own files, and silently: another search may be at it, too."""
    oldest = time.time() - KEPT_DAYS * _SECONDS_PER_DAY
    for path in folder.glob(f"*{ENDING}"):
        with suppress(OSError):
            if path.stat().st_mtime < oldest:
                path.unlink()
