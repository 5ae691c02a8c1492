"""A folder shown in the system's own file manager.

Public: `open_folder`, `NotOpened`.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from reedwright.errors import ReedwrightError

LOOK = 2.0  # seconds in which a file manager that can't be started says so


class NotOpened(ReedwrightError):
    """The system has no file manager, or it did not start."""


def program_for(platform: str) -> str:
    """What opens a folder, by `sys.platform` (explorer; open(1) of macOS; xdg-open(1))."""
    return {"win32": "explorer", "darwin": "open"}.get(platform, "xdg-open")


def open_folder(folder: Path, platform: str = sys.platform, wait: float = LOOK) -> None:
    """Raises `NotOpened` where that does not work, or the folder is no longer there."""
    if not folder.is_dir():
        raise NotOpened("The folder is no longer there; it was moved or deleted.")
    program = program_for(platform)
    try:
        started = subprocess.Popen(
            [program, str(folder.resolve())],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        status = started.wait(wait)
    except subprocess.TimeoutExpired:
        return  # it runs, and stays open
    except OSError:
        raise NotOpened(_words(folder, f"there is no '{program}' here")) from None
    if status and program != "explorer":  # which always says 1
        raise NotOpened(_words(folder, f"'{program}' could not open it"))


def _words(folder: Path, why: str) -> str:
    return f"The folder can't be shown, as {why}. It is {folder}."
