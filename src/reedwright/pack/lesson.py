"""Making a pack: every file of a lesson from one arrangement."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.folders.manifest import MANIFEST_NAME, manifest
from reedwright.folders.placing import built_aside
from reedwright.folders.zipping import zip_folder
from reedwright.harp.position import position
from reedwright.pack.cautions import rights_statement
from reedwright.pack.loops import write_loops
from reedwright.pack.pages import write_pages
from reedwright.pack.settings import PackSettings
from reedwright.pack.tracks import write_midi_alone, write_sound
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.grade import difficulty
from reedwright.tune.rights import rights_line

Report = Callable[[float, str], None]  # the share done, and what is being done


if TYPE_CHECKING:
    from reedwright.pack.take import TakeIn


class _Stopped(Exception):
    """The work in the other thread is no longer wanted."""


@dataclass(frozen=True, slots=True)
class Pack:
    """A finished pack. `files` names what is in `folder`, with what each is.

    `notices` are for the user: what to know of the take that is in it.
    """

    arrangement: Arrangement
    folder: Path
    zip: Path
    files: dict[str, str]
    rights: str | None
    notices: tuple[str, ...] = ()

    def report(self) -> dict[str, object]:
        """JSON-ready; the shape is in docs/formats.md."""
        arrangement = self.arrangement
        return {
            "title": arrangement.tune.title,
            "harp": arrangement.harp.name,
            "folder": str(self.folder),
            "zip": str(self.zip),
            "files": self.files,
            "rights": self.rights,
            "effort": arrangement.effort,
            "missing": [missing.id for missing in arrangement.missing],
        }

    def text(self) -> str:
        """For the terminal: where it lies and what to open."""
        width = max(map(len, self.files))
        lines = [f"{self.arrangement.tune.title}, for {self.arrangement.harp.name}", ""]
        lines += [f"  {name:{width}}  {what}" for name, what in self.files.items()]
        page = next(name for name in self.files if name.endswith(".pdf"))
        lines += ["", f"Open {self.folder / page} first.", f"To hand out: {self.zip}"]
        return "\n".join(lines)


def make_pack(
    arrangement: Arrangement,
    settings: PackSettings,
    out: Path,
    name: str,
    progress: Report = lambda share, doing: None,
) -> Pack:
    """Write the folder `out/name` and the zip `out/name.zip`.

    Both are built aside and moved into place whole; an earlier pack stays until
    then. Sound is made in a second thread while the page is engraved. Raises
    `ReedwrightError` for what the user can put right.
    """
    rights = rights_line(arrangement.tune)
    with built_aside(out, name) as folder:
        files, take = _write_all(arrangement, settings, folder, progress)
        lesson = _lesson(arrangement, rights)
        if take is not None:
            lesson["take"] = take.about
        (folder / MANIFEST_NAME).write_bytes(
            manifest(folder, files, lesson, _settings(settings, arrangement))
        )
        files[MANIFEST_NAME] = "what is here and how it was made"
        zip_folder(folder, folder.parent / f"{name}.zip")
    notices = () if take is None else take.notices
    return Pack(arrangement, out / name, out / f"{name}.zip", files, rights, notices)


def _write_all(
    arrangement: Arrangement, settings: PackSettings, folder: Path, progress: Report
) -> tuple[dict[str, str], TakeIn | None]:
    """Write every file but the manifest; what each is, by name, in the order to look at them."""
    stop = threading.Event()

    def report(share: float, doing: str) -> None:
        if stop.is_set():
            raise _Stopped
        progress(share, doing)

    with ThreadPoolExecutor(max_workers=1) as second_thread:
        sound = second_thread.submit(_write_sound, arrangement, settings, folder, report)
        try:
            pages = write_pages(arrangement, settings, folder)
            files, take = sound.result()
            return {**pages, **files}, take
        except BaseException:
            stop.set()
            raise


class _Shares:
    """One progress for several works that come one after another, each with its weight."""

    def __init__(self, progress: Report, weights: Sequence[float]) -> None:
        self._progress = progress
        self._weights = [weight / sum(weights) for weight in weights]
        self._done = 0

    def next(self) -> Report:
        begin, weight = sum(self._weights[: self._done]), self._weights[self._done]
        self._done += 1
        return lambda share, doing: self._progress(begin + weight * share, doing)


def _write_sound(
    arrangement: Arrangement, settings: PackSettings, folder: Path, progress: Report
) -> tuple[dict[str, str], TakeIn | None]:
    """The tune as sound: the teacher's take, the reed voice, or both; and where they are wanted
    the loops of its practice plan."""
    synthesised = settings.take is None or settings.take_beside
    shares = _Shares(progress, [2.0 * bool(settings.take), synthesised, settings.loops])
    take = None
    files: dict[str, str] = {}
    take_share = shares.next()
    if settings.take is not None:
        from reedwright.pack.take import write_take

        take = write_take(arrangement, settings.take, settings, folder, take_share)
        files |= take.files
    voice_share = shares.next()
    if synthesised:
        files = write_sound(arrangement, settings, folder, voice_share) | files
    else:
        files |= write_midi_alone(arrangement, settings, folder)
    loops_share = shares.next()
    if settings.loops and (synthesised or take is None or not take.has_loops):
        files |= write_loops(arrangement, settings, folder, loops_share)
    return files, take


def _lesson(arrangement: Arrangement, rights: str | None) -> dict[str, object]:
    tune, harp = arrangement.tune, arrangement.harp
    return {
        "title": tune.title,
        "type": tune.type,
        "key": tune.key.name,
        "harp": {
            "name": harp.name,
            "key": harp.key,
            "register": harp.register,
            "tuning": harp.tuning.name,
            "position": position(tune.key.tonic_pitch_class, harp),
        },
        "effort": arrangement.effort,
        "grade": difficulty(arrangement).grade,
        "missing": [missing.id for missing in arrangement.missing],
        "rights": rights_statement(rights),
    }


def _settings(settings: PackSettings, arrangement: Arrangement) -> dict[str, object]:
    return {
        "player": arrangement.player.name,
        "voice": arrangement.voice + 1,
        "octaves": arrangement.octaves,
        "paper": settings.paper,
        "tab_style": settings.tab_style,
        "speeds_percent": list(settings.speeds),
        "tempo_quarters_per_minute": settings.tempo,
        "lilt": settings.lilt,
        "count_in": settings.count_in,
        "amount_of_ornament": arrangement.wishes.amount.value,
        "second_time": arrangement.wishes.second_time,
        "loops": settings.loops,
        "breath_plot": settings.breath_plot,
        "template": settings.template.name if settings.template else None,
        **_take_settings(settings),
    }


def _take_settings(settings: PackSettings) -> dict[str, object]:
    """Only where there is a take: packs without one stay as they are."""
    if settings.take is None:
        return {}
    return {
        "take": settings.take.name,
        "take_beside": settings.take_beside,
        "take_parts": settings.take_parts,
    }
