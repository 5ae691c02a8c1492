"""Building a folder aside and moving it into place, keeping the old one until the new is whole."""

from __future__ import annotations

import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from reedwright.files import NotWritten

MAKING = ".making-"  # a folder being built
BEFORE = ".before-"  # the earlier pack, for the moment of the exchange


@contextmanager
def built_aside(out: Path, name: str) -> Iterator[Path]:
    """A fresh folder that becomes `out/name` when the block ends well.

    Files that the block writes beside the folder (its zip) go with it. An
    earlier `out/name` stays until then. Whatever goes wrong, including Ctrl-C,
    the earlier one is there and nothing half made is left. Raises `NotWritten`
    for whatever the system refuses.
    """
    try:
        out.mkdir(parents=True, exist_ok=True)
        _put_back(out, name)
        aside = Path(tempfile.mkdtemp(dir=out, prefix=f"{MAKING}{name}-"))
    except OSError as error:
        raise NotWritten(f"{out}: cannot be written ({error.strerror}).") from error
    try:
        folder = aside / name
        folder.mkdir()
        yield folder
        _exchange(folder, out / name, out / f"{BEFORE}{name}")
        for companion in aside.iterdir():
            companion.replace(out / companion.name)
    except OSError as error:
        raise NotWritten(f"{out / name}: cannot be written ({error.strerror}).") from error
    finally:
        shutil.rmtree(aside, ignore_errors=True)


def _exchange(folder: Path, place: Path, before: Path) -> None:
    if place.exists():
        place.rename(before)
    try:
        folder.rename(place)
    except OSError:
        if before.exists():
            before.rename(place)
        raise
    shutil.rmtree(before, ignore_errors=True)


def _put_back(out: Path, name: str) -> None:
    """Finish an exchange that was killed half way: the earlier pack goes back to its place."""
    before = out / f"{BEFORE}{name}"
    if not before.exists():
        return
    if (out / name).exists():
        shutil.rmtree(before)
    else:
        before.rename(out / name)
