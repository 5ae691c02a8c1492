"""The job that cuts a take into practice tracks: whole, by parts and by bars, slowed down.

Public: `CutTask`, `CutAsked`, `cut`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from pydantic import BaseModel, Field

from reedwright.errors import ReedwrightError
from reedwright.folders.names import file_name
from reedwright.folders.zipping import zip_folder
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.takes.practice.settings import Loop, PracticeSettings
from reedwright.takes.work import TakeWishes, listen, make_take
from reedwright.web.jobs.model import Outcome, Progress
from reedwright.web.music.arranging import arranged, harps_to_choose_from
from reedwright.web.music.opening import opened
from reedwright.web.sound_sent import called, lent, named
from reedwright.web.takes.kept import take_kept

LISTENING_SHARE = 0.4  # of the work, about
_BARS = re.compile(r"\s*(\d{1,4})\s*(?:[-–]\s*(\d{1,4})\s*)?$")


class CutAsked(BaseModel):
    """What the form asks for. `bars`: `3-4, 9`, by printed number."""

    speeds: Annotated[list[Annotated[int, Field(ge=20, le=150)]], Field(max_length=8)] = [80, 60]
    parts: bool = False
    bars: Annotated[str, Field(max_length=200)] = ""
    rounds: Annotated[int, Field(ge=1, le=99)] = 4
    count_in: bool = True
    retune: Annotated[float, Field(ge=-1200, le=1200)] = 0.0
    artist: Annotated[str, Field(max_length=100)] = ""

    def settings(self) -> PracticeSettings:
        """Raises `ReedwrightError` for bars that can't be read."""
        return PracticeSettings(
            speeds=tuple(dict.fromkeys(self.speeds)),
            parts=self.parts,
            loops=_loops(self.bars),
            rounds=self.rounds,
            count_in=self.count_in,
            retune=self.retune,
            artist=self.artist,
        )


def _loops(text: str) -> tuple[Loop, ...]:
    found = []
    for part in text.split(","):
        if not part.strip():
            continue
        bars = _BARS.match(part)
        if bars is None:
            raise ReedwrightError(f"'{part.strip()}' are no bars; write them such as 3-4, 9.")
        first, last = int(bars[1]), int(bars[2] or bars[1])
        if last < first:
            raise ReedwrightError(f"'{part.strip()}': the first bar goes first.")
        found.append(Loop(first, last))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class CutTask:
    """`shelf`, `made`: folders; the numbers of tune and take."""

    shelf: Path
    made: Path
    tune: int
    take: int
    asked: CutAsked


def cut(task: CutTask, progress: Progress) -> Outcome:
    """A `Work`. Raises as `listen` and `make_take` do, `NotOnShelf`."""
    with open_shelf(task.shelf) as shelf:
        take = take_kept(shelf, task.tune, task.take)
        tune = opened(shelf, task.tune)
        arrangement = arranged(tune.tune, tune.choices, harps_to_choose_from(shelf))
    title = file_name(tune.tune.title, str(task.tune))[:40]
    stem = called(take.file).rpartition(".")[0] or called(take.file)
    name = f"{title} {stem}"
    with lent(take.path, take.file) as path:
        try:
            listened = listen(path, lambda share, doing: progress(LISTENING_SHARE * share, doing))
            done = make_take(
                listened,
                arrangement,
                TakeWishes(tracks=task.asked.settings()),
                task.made,
                name,
                lambda share, doing: progress(
                    LISTENING_SHARE + (0.98 - LISTENING_SHARE) * share, doing
                ),
            )
        except ReedwrightError as error:
            raise ReedwrightError(named(str(error), path, take.file)) from None
    progress(0.98, "packing it")
    packed = task.made / f"{name}.zip"
    zip_folder(done.folder, packed)
    files = {packed.name: packed} | {each: done.folder / each for each in done.files}
    return Outcome(
        files=files,
        folder=done.folder,
        notices=done.notices,
        go=f"/tunes/{task.tune}/takes/{task.take}",
    )
