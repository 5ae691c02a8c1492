"""Reeds measured from a recording, as a job; what came of it is kept with a harp when asked.

Keeping is by the text of the entry that the job has made, so what is kept is what was shown.

Public: `RecordingTask`, `measure`, `keep_entry`.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.files import write_whole
from reedwright.harp.model import Reed
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.sound.recording.model import Trouble
from reedwright.tab.words import with_article
from reedwright.web.bench.kept import with_entry
from reedwright.web.jobs.model import Outcome, Progress
from reedwright.web.ownharps import OwnHarp
from reedwright.web.sound_sent import named
from reedwright.workshop.history.keeping import add_measurement, start_history
from reedwright.workshop.history.model import History
from reedwright.workshop.history.reading import read_history
from reedwright.workshop.history.writing import entry_text, head_text
from reedwright.workshop.measuring.another_harp import better_key
from reedwright.workshop.measuring.model import Measurement
from reedwright.workshop.measuring.recording import measure_recording
from reedwright.workshop.measuring.reporting import measurement_report
from reedwright.workshop.targets.model import Targets


class RecordingTask(NamedTuple):
    """`sound`: a passing file of ours; `name`: what the user calls it. `harp`: as
    `parse_harp` reads it. `when`: before work, after it, or as a check. `item`: the harp that it is
    to be kept with, 0 for none; `before`: Hz of its reeds as last measured."""

    sound: Path
    name: str
    targets: Targets
    harp: str
    order: str
    at_bench: bool
    when: str
    item: int
    before: Mapping[Reed, float]


def measure(task: RecordingTask, progress: Progress) -> Outcome:
    """Raises `UnreadableRecording`, `NoReedHeard`, `OrderError`, with the user's name for it."""
    troubles: list[str] = []

    def trouble(each: Trouble) -> None:
        troubles.append(named(each.message, task.sound, task.name))

    try:
        measured = measure_recording(
            task.sound,
            task.targets,
            task.order or None,
            task.at_bench,
            progress,
            dict(task.before) or None,
            trouble=trouble,
        )
    except ReedwrightError as error:
        raise ReedwrightError(named(str(error), task.sound, task.name)) from None
    other = better_key(measured)
    return Outcome(
        facts={
            "measured": measurement_report(measured),
            "entry": _entry(measured, task.harp, task.when),
            "harp": task.harp,
            "item": task.item,
            "other": "" if other is None else with_article(other.name),
        },
        notices=tuple(troubles),
        go="/bench/measured",
    )


def _entry(measured: Measurement, harp: str, when: str) -> str:
    """The measurement as the bench writes it at the end of a history."""
    with TemporaryDirectory(prefix="reedwright-bench-") as folder:
        begun = start_history("harp", harp, Path(folder))
        return entry_text(add_measurement(begun, measured, when).entries[-1])


def keep_entry(shelf: Shelf, item: int, entry: str, said: str) -> OwnHarp:
    """The harp with an entry that a job has made. Raises `HistoryError`, `NotOnShelf`."""

    def add(history: History) -> History:
        text = history.path.read_bytes().decode("utf-8")
        read_history(history.path, head_text("harp", history.harp) + entry)  # whole by itself
        whole = f"{text}{'' if text.endswith(chr(10)) else chr(10)}{entry}"
        after = read_history(history.path, whole)
        write_whole(history.path, whole.encode("utf-8"))
        return after

    return with_entry(shelf, item, add, said)
