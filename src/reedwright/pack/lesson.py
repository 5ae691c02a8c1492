"""Making a pack: every file of a lesson from one arrangement."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from reedwright.files import NotWritten
from reedwright.harp.position import position
from reedwright.pack.cautions import CAUTIONS, rights_statement
from reedwright.pack.manifest import MANIFEST_NAME, manifest
from reedwright.pack.placing import built_aside
from reedwright.pack.settings import PackSettings
from reedwright.pack.zipping import zip_folder
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.rights import rights_line

Report = Callable[[float, str], None]  # the share done, and what is being done

FULL_SPEED = 100  # percent


class _Stopped(Exception):
    """The work in the other thread is no longer wanted."""


@dataclass(frozen=True, slots=True)
class Pack:
    """A finished pack. `files` names what is in `folder`, with what each is."""

    arrangement: Arrangement
    folder: Path
    zip: Path
    files: dict[str, str]
    rights: str | None

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
        files = _write_all(arrangement, settings, folder, progress)
        lesson = _lesson(arrangement, rights)
        content = manifest(folder, files, lesson, _settings(settings))
        (folder / MANIFEST_NAME).write_bytes(content)
        files[MANIFEST_NAME] = "what is here and how it was made"
        zip_folder(folder, folder.parent / f"{name}.zip")
    return Pack(arrangement, out / name, out / f"{name}.zip", files, rights)
