"""A pack's sound from the teacher's own playing: heard, followed, cut into its tracks.

Public: `write_take`, `TakeIn`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from reedwright.pack.cautions import TAKE_RIGHTS
from reedwright.pack.settings import PackSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.practice import practice_plan
from reedwright.takes.model import Following
from reedwright.takes.practice.bars import NotInTake, chosen
from reedwright.takes.practice.planning import cautions_on, is_sure
from reedwright.takes.practice.settings import Loop, PracticeSettings
from reedwright.takes.practice.tracks import write_tracks
from reedwright.takes.work import Listened, listen

Progress = Callable[[float, str], None]

BESIDE = "-take"  # in the names of files that stand beside the synthesised ones
_SHARE_LISTENED = 0.4  # of the work, about


@dataclass(frozen=True, slots=True)
class TakeIn:
    """A take that went into a pack.

    `files` names what was made with what each is, `about` is for the manifest, `notices` for
    the user. `has_loops`: the passages of the practice plan were cut from it.
    """

    files: dict[str, str]
    about: dict[str, object]
    notices: tuple[str, ...]
    has_loops: bool


def write_take(
    arrangement: Arrangement,
    recording: Path,
    settings: PackSettings,
    folder: Path,
    progress: Progress = lambda share, doing: None,
) -> TakeIn:
    """Write the tracks of a recording into `folder`, named as a pack's sound is.

    Where they stand beside it, `-take` comes after the folder's name. A recording that hardly
    fits the tune is made into tracks all the same, whole only, and that is told. Raises
    `UnreadableRecording` and other `ReedwrightError`s that the user can put right.
    """
    from reedwright.takes.following.follow import follow

    listened = listen(
        recording, lambda share, doing: progress(_SHARE_LISTENED * share, f"{doing} to your take")
    )
    following = follow(arrangement, listened.heard)
    loops = _loops(arrangement, following) if settings.loops else ()
    wanted = PracticeSettings(
        speeds=settings.speeds,
        parts=settings.take_parts and any(bar.part for bar in following.bars),
        loops=loops,
        count_in=settings.count_in,
        artist=settings.played_by,
    )
    name = folder.name + (BESIDE if settings.take_beside else "")
    files = write_tracks(
        listened.recording,
        following,
        wanted,
        folder,
        name,
        lambda share, doing: progress(_SHARE_LISTENED + (1 - _SHARE_LISTENED) * share, doing),
    )
    notices = (
        *cautions_on(following, wanted),
        *(trouble.message for trouble in listened.troubles),
        TAKE_RIGHTS,
    )
    has_loops = bool(loops) and is_sure(following)
    return TakeIn(files, _about(listened, following, settings), notices, has_loops)


def _loops(arrangement: Arrangement, following: Following) -> tuple[Loop, ...]:
    """The passages of the practice plan that the take plays, each with its speeds and rounds."""
    found = []
    for passage in practice_plan(arrangement).passages:
        loop = Loop(
            passage.first,
            passage.last,
            rounds=max(step.rounds for step in passage.steps),
            speeds=tuple(step.percent for step in passage.steps),
        )
        try:
            chosen(following, loop)
        except NotInTake:
            continue
        found.append(loop)
    return tuple(found)


def _about(listened: Listened, following: Following, settings: PackSettings) -> dict[str, object]:
    return {
        "recording": listened.recording.path.name,
        "played_by": settings.played_by,
        "seconds": round(listened.heard.duration, 3),
        "sureness": round(following.sureness, 3),
        "left_out_or_played_again": list(following.skipped),
        "beside_the_synthesised_sound": settings.take_beside,
        "rights": TAKE_RIGHTS,
    }
