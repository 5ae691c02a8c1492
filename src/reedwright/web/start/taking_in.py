"""Tunes taken onto the shelf from what a browser sent: a job, or at once where it is little.

Public: `TakingIn`, `take_in`, `ToldTune`.
"""

from __future__ import annotations

import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reedwright.shelf.filling.importing import ImportOptions, import_tunes
from reedwright.shelf.filling.report import ImportReport, write_report
from reedwright.shelf.filling.told import Told
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.web.jobs.model import Outcome, Progress
from reedwright.web.sound_sent import named
from reedwright.web.start.uploads import as_sent, cleared

SHOWN = 200  # of each kind on the page; the file has all of them
REPORT = "what-became-of-every-tune.txt"


@dataclass(frozen=True, slots=True)
class TakingIn:
    """`names`: places on the disk, and what is shown for them. `update`: tunes that stand otherwise
    in their files now get a new state. `go`: the page that shows what came of it."""

    shelf: Path
    names: Mapping[str, str]
    update: bool = False
    go: str = ""
    workers: int | None = None
    keep_report: bool = True


def take_in(task: TakingIn, progress: Progress) -> Outcome:
    """The work of the job. What was sent is gone from the disk at its end, however that comes."""
    try:
        with open_shelf(task.shelf) as shelf:
            options = ImportOptions(update=task.update, workers=task.workers)
            places = [_place(each, shown) for each, shown in task.names.items()]
            report = import_tunes(shelf, places, options, progress)
            facts = _facts(shelf, report, task.names)
        if not task.keep_report:
            return Outcome(facts=facts, go=task.go)
        folder = Path(tempfile.mkdtemp(prefix="reedwright-"))
        file = folder / REPORT
        write_report(report, file)
        text = file.read_text(encoding="utf-8")
        file.write_text(as_sent_in(text, task.names), encoding="utf-8")
        return Outcome(facts=facts, files={REPORT: file}, go=task.go, passing=folder)
    finally:
        cleared(task.names)


def _place(place: str, shown: str) -> Path:
    """A file that stood in a folder is looked at as part of one: of such, what has no tune in it is
    passed over, and not told as something that somebody meant to be taken in."""
    return Path(place).parent if "/" in shown else Path(place)


def _facts(shelf: Shelf, report: ImportReport, names: Mapping[str, str]) -> dict[str, Any]:
    """JSON-ready."""
    kinds = {
        "updated": report.updated,
        "changed": report.changed,
        "both_changed": report.both_changed,
        "repaired": report.repaired,
        "remarks": report.remarks,
        "refused": report.refused,
    }
    return {
        "added": len(report.added),
        "tunes": [
            {"id": number, "title": shelf.item(number).name} for number in report.added[:SHOWN]
        ],
        "same": report.same - report.removed_before,
        "removed_before": report.removed_before,
        "files": report.files,
        "other_words": report.other_words,
        "settings": report.settings or 0,
        "graded": report.graded,
        **{kind: len(told) for kind, told in kinds.items()},
        **{f"{kind}_told": _told(told, names) for kind, told in kinds.items()},
    }


def _told(told: Sequence[Told], names: Mapping[str, str]) -> list[dict[str, Any]]:
    return [
        {
            "file": as_sent(each.file, names),
            "line": each.line,
            "column": each.column,
            "number": each.number,
            "title": each.title,
            "message": as_sent_in(each.message, names),
        }
        for each in told[:SHOWN]
    ]


def as_sent_in(message: str, names: Mapping[str, str]) -> str:
    """A text with the names of files as they were sent."""
    for place, shown in names.items():
        message = named(message, Path(place), shown)
    return message
