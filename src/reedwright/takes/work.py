"""A whole take worked through: heard, followed, told about, cut into tracks, put in its folder.

Public: `listen`, `Listened`, `make_take`, `take_name`, `TakeWishes`, `TakeDone`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from reedwright.errors import ReedwrightError
from reedwright.files import write_whole
from reedwright.folders.manifest import MANIFEST_NAME, manifest
from reedwright.folders.names import file_name
from reedwright.folders.placing import built_aside
from reedwright.harp.temperament import EQUAL
from reedwright.sound.hearing.model import Array32, Heard
from reedwright.sound.recording.model import Recording, Trouble, TroubleKind
from reedwright.tab.arrangement import Arrangement
from reedwright.takes.model import Following
from reedwright.takes.practice.settings import PracticeSettings
from reedwright.takes.report.model import TakeReport

Progress = Callable[[float, str], None]  # the share done, and what is being done

_TUNE_LETTERS = 34  # of the title in a folder's name: the recording's name needs room, too
_NEARLY_ALL = 0.9  # of a recording
_SHARE_READ = 0.3  # of the listening, about
_SHARE_HEARD, _SHARE_TOLD = 0.1, 0.3  # of what follows it


class SilentTake(ReedwrightError):
    """The recording is silent from end to end."""


@dataclass(frozen=True, slots=True, eq=False)
class Listened:
    """A recording that was listened to, and what may be wrong with it."""

    recording: Recording
    heard: Heard
    troubles: tuple[Trouble, ...]


@dataclass(frozen=True, slots=True)
class TakeWishes:
    """What is to be made of a take. `tracks` None: no sound; `report`: the page and its JSON.

    `temperament` is what the harp is tuned to, by name; empty for equal temperament.
    """

    tracks: PracticeSettings | None = field(default_factory=PracticeSettings)
    report: bool = True
    paper: str = "a4"
    temperament: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class TakeDone:
    """A take worked through. `files` names what is in `folder`, with what each is.

    `following` and `report` are None where no tune was given. `notices` are for the user.
    """

    listened: Listened
    following: Following | None
    report: TakeReport | None
    folder: Path
    files: dict[str, str]
    notices: tuple[str, ...] = ()


def take_name(path: Path, arrangement: Arrangement | None) -> str:
    """What a take's folder is called after: the tune and the recording, so that an earlier take
    of the tune stays."""
    if arrangement is None:
        return path.stem
    return f"{file_name(arrangement.tune.title)[:_TUNE_LETTERS]} {path.stem}"


def listen(
    path: Path,
    progress: Progress = lambda share, doing: None,
    start: float = 0.0,
    end: float | None = None,
) -> Listened:
    """Open a file and hear it from `start` to `end` (seconds), in one pass over its blocks.

    What is heard is timed from `start`; troubles are those of the stretch, timed in the file.
    Raises `UnreadableRecording`, and `SilentTake` where all of it is silent.
    """
    from reedwright.sound.hearing.listening import WANTED_RATE, hear
    from reedwright.sound.recording.blocks import blocks
    from reedwright.sound.recording.opening import open_recording
    from reedwright.sound.recording.troubles import Watch

    recording = open_recording(path)
    watch = Watch(recording.rate)

    def sound() -> Iterator[Array32]:
        done = 0
        for block in blocks(recording, WANTED_RATE, 1, watch=watch, start=start, end=end):
            done += len(block)
            if recording.seconds:
                share = min(1.0, done / WANTED_RATE / recording.seconds)
                progress(_SHARE_READ * share, "listening")
            yield block[:, 0]

    heard = hear(
        sound(),
        WANTED_RATE,
        lambda share, doing: progress(_SHARE_READ + (1 - _SHARE_READ) * share, doing),
    )
    troubles = tuple(
        trouble
        for trouble in watch.troubles()
        if trouble.end > start and (end is None or trouble.start < end)
    )
    if not heard.notes:
        for trouble in troubles:
            all_of_it = trouble.end - trouble.start > _NEARLY_ALL * heard.duration
            if trouble.kind is TroubleKind.SILENCE and all_of_it:
                raise SilentTake(f"{path}: {trouble.message}")
    return Listened(recording, heard, troubles)


def make_take(
    listened: Listened,
    arrangement: Arrangement | None,
    wishes: TakeWishes,
    out: Path,
    name: str,
    progress: Progress = lambda share, doing: None,
) -> TakeDone:
    """Write the folder `out/name`: report, times of the notes, practice tracks, manifest.

    Its files are named for the tune, or for the folder where there is none.
    It is built aside and moved into place whole; an earlier one stays until then. Without an
    arrangement the take is only trimmed, levelled and slowed. Raises `ReedwrightError` for
    what the user can put right.
    """
    following = report = None
    if arrangement is not None:
        from reedwright.takes.following.follow import follow
        from reedwright.takes.report.judging import judge

        progress(0.0, "following the tune")
        following = follow(arrangement, listened.heard)
        if wishes.report:
            report = judge(following, wishes.temperament or EQUAL)
    files_name = name if arrangement is None else file_name(arrangement.tune.title)
    with built_aside(out, name) as folder:
        files: dict[str, str] = {}
        if report is not None:
            progress(_SHARE_HEARD, "writing the report")
            files |= _write_report(report, wishes, folder, files_name)
        if wishes.tracks is not None:
            from reedwright.takes.practice.tracks import write_tracks

            files |= write_tracks(
                listened.recording,
                following,
                wishes.tracks,
                folder,
                files_name,
                lambda share, doing: progress(_SHARE_TOLD + (1 - _SHARE_TOLD) * share, doing),
            )
        (folder / MANIFEST_NAME).write_bytes(
            manifest(folder, files, _about(listened, following), _settings(wishes))
        )
        files[MANIFEST_NAME] = "what is here and how it was made"
    return TakeDone(listened, following, report, out / name, files, _notices(following, wishes))


def _notices(following: Following | None, wishes: TakeWishes) -> tuple[str, ...]:
    from reedwright.takes.practice.planning import cautions_on

    return () if wishes.tracks is None else cautions_on(following, wishes.tracks)


def _write_report(
    report: TakeReport, wishes: TakeWishes, folder: Path, name: str
) -> dict[str, str]:
    from reedwright.takes.report.page import write_report_page
    from reedwright.takes.report.written import report_json

    page, data = f"{name}-report.pdf", f"{name}-report.json"
    write_report_page(report, folder / page, wishes.paper)
    text = json.dumps(report_json(report), ensure_ascii=False, indent=2) + "\n"
    write_whole(folder / data, text.encode())
    return {page: "the report, to read", data: "the report and the time of every note, as JSON"}


def _about(listened: Listened, following: Following | None) -> dict[str, object]:
    recording = listened.recording
    take: dict[str, object] = {
        "recording": recording.path.name,
        "seconds": round(listened.heard.duration, 3),
        "reference_pitch_hz": round(listened.heard.a4, 2),
        "troubles": [trouble.message for trouble in listened.troubles],
    }
    if following is not None:
        take["tune"] = following.arrangement.tune.title
        take["sureness"] = round(following.sureness, 3)
    return {"take": take}


def _settings(wishes: TakeWishes) -> dict[str, object]:
    tracks = wishes.tracks
    return {
        "paper": wishes.paper,
        "report": wishes.report,
        "temperament": wishes.temperament or EQUAL,
        "tracks": None if tracks is None else tracks.described(),
    }
