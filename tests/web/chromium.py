"""Chromium as the system has it, without a window, and what its microphone hears.

Public: `chromium_path`, `launched`.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, BrowserType

NO_BROWSER = "chromium is not on this machine; tools/reference-programs.sh installs it"
ASKED_FOR = (
    "--no-sandbox",  # the tests may run as root, where it cannot begin with one
    "--use-fake-ui-for-media-stream",  # leave to use the microphone is given
    "--use-fake-device-for-media-stream",
)


def chromium_path() -> str:
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    assert path, NO_BROWSER
    return path


@contextmanager
def launched(kind: BrowserType, heard: Path | None = None) -> Iterator[Browser]:
    """`heard`: a WAV file that the microphone plays over and over; else its own beeps."""
    file = [] if heard is None else [f"--use-file-for-fake-audio-capture={heard}"]
    browser = kind.launch(executable_path=chromium_path(), args=[*ASKED_FOR, *file])
    yield browser
    browser.close()
