"""A recording as it comes from a browser: under a name of our making, looked over, kept or lent.

Public: `laid_down`, `for_a_job`, `lent`, `called`, `named`.
"""

from __future__ import annotations

import os
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
_PREFIX = "reedwright-take-"


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

    Raises `ReedwrightError` for what is no sound, with the user's name for it.
    """
    with tempfile.TemporaryDirectory(prefix=_PREFIX) as folder:
        yield _written(sound, sent_name, Path(folder))


def for_a_job(sound: BinaryIO | Path, sent_name: str) -> Path:
    """A copy, alone in a folder of its own: the one to give to `Jobs.begin` as brought is its
    parent. Raises as `laid_down` does, and leaves nothing then."""
    folder = Path(tempfile.mkdtemp(prefix=_PREFIX))
    try:
        if isinstance(sound, Path):
            return _copied(sound, folder / called(sent_name))
        return _written(sound, sent_name, folder)
    except BaseException:
        shutil.rmtree(folder, ignore_errors=True)
        raise


@contextmanager
def lent(sound: Path, name: str) -> Iterator[Path]:
    """A recording of ours under the name of a user's, for as long as it is asked for: what is made
    of a recording is named for its file."""
    with tempfile.TemporaryDirectory(prefix=_PREFIX) as folder:
        yield _copied(sound, Path(folder) / called(name))


def named(words: str, path: Path, name: str) -> str:
    """Our file's place means nothing to anybody."""
    return words.replace(str(path), name)


def _written(sound: BinaryIO, sent_name: str, folder: Path) -> Path:
    path = folder / called(sent_name)
    with path.open("wb") as out:
        shutil.copyfileobj(sound, out)
    try:
        open_recording(path)
    except ReedwrightError as error:
        raise ReedwrightError(named(str(error), path, path.name)) from None
    return path


def _copied(sound: Path, path: Path) -> Path:
    try:
        os.link(sound, path)
    except OSError:  # another disk, or one without links
        shutil.copyfile(sound, path)
    return path
