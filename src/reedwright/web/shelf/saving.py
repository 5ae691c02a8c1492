"""The shelf as a whole: copied, written out as plain files, checked. Each is a job.

Public: `Saving`, `back_up_work`, `export_work`, `check_work`.
"""

from __future__ import annotations

import tempfile
import zipfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.safety.backing_up import back_up
from reedwright.shelf.safety.checking import check
from reedwright.shelf.safety.exporting import export
from reedwright.web.jobs.model import Outcome, Progress

WRITTEN = 0.8  # share of the work that is done before all is put into one file


@dataclass(frozen=True, slots=True)
class Saving:
    """`made`: where folders are put that stay."""

    shelf: Path
    made: Path


def check_work(task: Saving, progress: Progress) -> Outcome:
    """Look at everything; nothing is changed."""
    with open_shelf(task.shelf, make=False) as shelf:
        report = check(shelf, progress)
    return Outcome(facts={"whole": report.whole}, notices=tuple(report.text().splitlines()))


def back_up_work(task: Saving, progress: Progress) -> Outcome:
    """A copy of the shelf, itself a shelf, in a folder of its own; and the same as one file."""
    folder = _unused(task.made, "backup of the shelf")
    with open_shelf(task.shelf, make=False) as shelf:
        report = back_up(shelf, folder, lambda share, doing: progress(WRITTEN * share, doing))
    passing, file = _zipped(folder, progress)
    return Outcome(
        files={file.name: file}, folder=folder, passing=passing, notices=tuple(report.problems)
    )


def export_work(task: Saving, progress: Progress) -> Outcome:
    """Everything as plain files in a folder; and the same as one file."""
    folder = _unused(task.made, "shelf as files")
    with open_shelf(task.shelf, make=False) as shelf:
        report = export(shelf, folder, lambda share, doing: progress(WRITTEN * share, doing))
    passing, file = _zipped(folder, progress)
    return Outcome(
        files={file.name: file}, folder=folder, passing=passing, notices=tuple(report.problems)
    )


def _unused(made: Path, what: str) -> Path:
    """A folder that is not there yet, named for the day and the minute."""
    made.mkdir(parents=True, exist_ok=True)
    name = f"{what} {datetime.now():%Y-%m-%d %H.%M}"
    found, count = made / name, 1
    while found.exists():
        count += 1
        found = made / f"{name} ({count})"
    return found


def _zipped(folder: Path, progress: Progress) -> tuple[Path, Path]:
    """A passing folder, and in it the folder as one file."""
    passing = Path(tempfile.mkdtemp(prefix="reedwright-"))
    file = passing / f"{folder.name}.zip"
    inside = sorted(path for path in folder.rglob("*") if path.is_file())
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for number, path in enumerate(inside):
            progress(WRITTEN + (1 - WRITTEN) * number / len(inside), "putting it into one file")
            archive.write(path, f"{folder.name}/{path.relative_to(folder).as_posix()}")
    return passing, file
