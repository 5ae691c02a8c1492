"""The job that hears a take, follows it along its tune and writes the report.

What comes of it lies beside the shelf in `heard/`, named for all that it depends on: the recording,
the tune and its choices. It may be deleted at any time, and is made again when asked for.

Public: `HearTask`, `hear`, `key_of`, `found`, `report_of`, `FOLDER`.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from reedwright import __version__
from reedwright.errors import ReedwrightError
from reedwright.files import write_whole
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.tab.choices.book import ChoiceBook
from reedwright.tab.choices.writing import written_choices
from reedwright.takes.following.follow import follow
from reedwright.takes.report.judging import judge
from reedwright.takes.report.page import report_pdf
from reedwright.takes.report.written import report_json
from reedwright.takes.work import listen
from reedwright.web.jobs.model import Outcome, Progress
from reedwright.web.music.arranging import arranged, harps_to_choose_from
from reedwright.web.music.opening import OpenTune, opened
from reedwright.web.sound_sent import named
from reedwright.web.takes.kept import take_kept
from reedwright.web.takes.shown import RULES, shown

FOLDER = "heard"
HEARD_SHARE = 0.85  # of the work


@dataclass(frozen=True, slots=True)
class HearTask:
    """`shelf`: its folder; the numbers of tune and take on it."""

    shelf: Path
    tune: int
    take: int


def key_of(shelf: Shelf, tune: OpenTune, attachment: str) -> str:
    """Of all that what is heard depends on; letters and digits."""
    book = ChoiceBook().changed(replace(tune.choices, table=None))
    harps = harps_to_choose_from(shelf)
    said = [
        __version__,
        RULES,
        attachment,
        tune.item.state.text or tune.item.state.attachment,
        written_choices(book),
        None if tune.choices.harp or harps is None else [harp.name for harp in harps],
    ]
    return hashlib.sha256(json.dumps(said).encode()).hexdigest()


def found(shelf: Shelf, key: str) -> dict[str, Any] | None:
    """What was heard, where that is known."""
    try:
        held: dict[str, Any] = json.loads((shelf.folder / FOLDER / f"{key}.json").read_bytes())
    except (OSError, ValueError):
        return None
    return held


def report_of(shelf: Shelf, key: str, kind: str = "pdf") -> bytes | None:
    """The report: `pdf` to read, `report.json` for programs."""
    try:
        return (shelf.folder / FOLDER / f"{key}.{kind}").read_bytes()
    except OSError:
        return None


def hear(task: HearTask, progress: Progress) -> Outcome:
    """A `Work`. Raises `UnreadableRecording`, `SilentTake`, `NotOnShelf`, and as arranging does."""
    with open_shelf(task.shelf) as shelf:
        take = take_kept(shelf, task.tune, task.take)
        tune = opened(shelf, task.tune)
        arrangement = arranged(tune.tune, tune.choices, harps_to_choose_from(shelf))
        key = key_of(shelf, tune, take.item.state.attachment)
    try:
        listened = listen(take.path, lambda share, doing: progress(HEARD_SHARE * share, doing))
    except ReedwrightError as error:
        raise ReedwrightError(named(str(error), take.path, take.file)) from None
    progress(HEARD_SHARE, "following the tune")
    following = follow(arrangement, listened.heard)
    report = judge(following)
    progress(0.92, "writing the report")
    folder = task.shelf / FOLDER
    folder.mkdir(exist_ok=True)
    write_whole(folder / f"{key}.pdf", report_pdf(report))
    data = json.dumps(report_json(report), ensure_ascii=False, indent=2) + "\n"
    write_whole(folder / f"{key}.report.json", data.encode())
    told = shown(listened, following, report)
    told["troubles"] = [named(each, take.path, take.file) for each in told["troubles"]]
    write_whole(folder / f"{key}.json", json.dumps(told).encode())
    return Outcome(go=f"/tunes/{task.tune}/takes/{task.take}")
