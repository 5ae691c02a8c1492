"""A recording as it comes from a browser: laid down under a name of our making, looked over, kept.

Public: `laid_down`, `called`, `named`.
"""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from reedwright.errors import ReedwrightError
from reedwright.folders.names import file_name
from reedwright.sound.recording.opening import open_recording

MOST_LETTERS = 80  # of a recording's name


def called(sent_name: str) -> str:
    """What a recording is called after the name that the browser gives: its last part, without
    signs that file names do not take."""
    last = sent_name.replace("\\", "/").rsplit("/", 1)[-1]
    stem, dot, ending = last.rpartition(".")
    name = file_name(stem if dot else last, "recording")[:MOST_LETTERS]
    kind = file_name(ending, "")[:5] if dot else ""
    return f"{name}.{kind}" if kind else name


@contextmanager
def laid_down(sound: BinaryIO, sent_name: str) -> Iterator[Path]:
    """The recording as a file of its own for as long as it is asked for, with sound in it.

    Raises `UnreadableRecording` for what is no sound, with the user's name for it.
    """
    name = called(sent_name)
    with tempfile.TemporaryDirectory(prefix="reedwright-take-") as folder:
        path = Path(folder) / name
        with path.open("wb") as out:
            shutil.copyfileobj(sound, out)
        try:
            open_recording(path)
        except ReedwrightError as error:
            raise ReedwrightError(named(str(error), path, name)) from None
        yield path


def named(words: str, path: Path, name: str) -> str:
    """Our file's place means nothing to anybody."""
    return words.replace(str(path), name)
