"""The job that makes a pack, and keeps it with its tune on the shelf.

Public: `PackTask`, `make`.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from reedwright.folders.names import file_name
from reedwright.pack.lesson import make_pack
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Kind, NotOnShelf, Role
from reedwright.tab.text import notices
from reedwright.web.jobs.model import Outcome, Progress
from reedwright.web.music.opening import opened
from reedwright.web.pack.asked import PackAsked, wanted_arrangement
from reedwright.web.pack.kept import keep
from reedwright.web.sound_sent import lent

LOOP = "-loop-"  # in the names of loops
NO_LOOPS = "At this tempo no bars stand out as hard, so there are no loops."
SHARE_MADE = 0.97  # of the work; the rest is keeping it


@dataclass(frozen=True, slots=True)
class PackTask:
    """`shelf`: its folder; `made`: the folder that packs are put into; `name`: this one's."""

    shelf: Path
    made: Path
    tune: int
    name: str
    asked: PackAsked


def make(task: PackTask, progress: Progress) -> Outcome:
    """A `Work`. Raises what `make_pack` raises, `NotOnShelf`."""
    progress(0.0, "arranging the tune")
    with open_shelf(task.shelf) as shelf, _take(shelf, task) as take:
        arrangement = wanted_arrangement(shelf, opened(shelf, task.tune), task.asked)
        pack = make_pack(
            arrangement,
            task.asked.pack_settings(take),
            task.made,
            task.name,
            lambda share, doing: progress(SHARE_MADE * share, doing),
        )
        progress(SHARE_MADE, "keeping it with the tune on the shelf")
        kept = keep(shelf, task.tune, pack.zip)
    files = {pack.zip.name: pack.zip} | {name: pack.folder / name for name in pack.files}
    facts = {"title": arrangement.tune.title, "harp": arrangement.harp.name, "kept": kept.id}
    told = [*notices(arrangement), *pack.notices]
    if task.asked.loops and not any(LOOP in name for name in pack.files):
        told.append(NO_LOOPS)
    return Outcome(
        facts=facts,
        files=files,
        folder=pack.folder,
        notices=tuple(told),
        go=f"/tunes/{task.tune}/pack",
    )


@contextmanager
def _take(shelf: Shelf, task: PackTask) -> Iterator[Path | None]:
    """The recording under its item's name, with the ending that it came with."""
    number = task.asked.take
    if number is None:
        yield None
        return
    item = shelf.item(number)
    if item.kind is not Kind.TAKE or task.tune not in (
        link.to for link in shelf.links(number, Role.OF)
    ):
        raise NotOnShelf("There is no such take of this tune on the shelf.")
    ending = Path(str(item.state.about.get("file", ""))).suffix
    name = f"{file_name(item.name, str(number))}{ending}"
    with lent(shelf.attachments.path(item.state.attachment), name) as path:
        yield path
