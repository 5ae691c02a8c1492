"""Building a folder aside and moving it into place, keeping the old one until the new is whole."""

from __future__ import annotations

import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from reedwright.files import NotWritten, not_written
from reedwright.folders.manifest import MANIFEST_NAME

MAKING = ".making-"  # a folder being built
BEFORE = ".before-"  # the earlier pack, for the moment of the exchange


@contextmanager
def built_aside(out: Path, name: str) -> Iterator[Path]:
    """A fresh folder that becomes `out/name` when the block ends well.

    Files that the block writes beside the folder (its zip) go with it. An
    earlier `out/name` stays until then; what a user has put into it is kept.
    Whatever goes wrong, including Ctrl-C, the earlier one is there and nothing
    half made is left. Raises `NotWritten` for whatever the system refuses, and
    where something that is no folder has the name already.
    """
    place = out / name
    try:
        out.mkdir(parents=True, exist_ok=True)
        with _alone_in(out):
            _put_back(out, name)
            if place.exists() and not place.is_dir():
                raise NotWritten(
                    f"{place} is a file, where the finished folder goes. Move it away."
                )
        aside = Path(tempfile.mkdtemp(dir=out, prefix=f"{MAKING}{name}-"))
    except OSError as error:
        raise not_written(out, error) from error
    try:
        folder = aside / name
        folder.mkdir()
        yield folder
        with _alone_in(out):
            companions = [each for each in aside.iterdir() if each != folder]
            for companion in companions:
                if (out / companion.name).is_dir():
                    raise NotWritten(
                        f"{out / companion.name} is a folder, where a file goes that comes with "
                        "it. Move it away."
                    )
            _keep_what_is_not_ours(place, folder)
            _exchange(folder, place, out / f"{BEFORE}{name}")
            for companion in companions:
                companion.replace(out / companion.name)
    except NotWritten as error:
        # The user knows the place where the pack goes, not the one where it is built.
        raise NotWritten(str(error).replace(str(aside), str(out))) from error
    except OSError as error:
        raise not_written(place, error) from error
    finally:
        shutil.rmtree(aside, ignore_errors=True)


@contextmanager
def _alone_in(out: Path) -> Iterator[None]:
    """Two runs into one folder exchange their packs one after the other.

    Where the system has no such locks (Windows, some network drives) nothing is held.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    handle = os.open(out, os.O_RDONLY)
    try:
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def _keep_what_is_not_ours(earlier: Path, new: Path) -> None:
    """Copy what the earlier pack's manifest does not name (a student's notes, say) to the new."""
    if not earlier.is_dir():
        return
    ours = {MANIFEST_NAME, *_named_in(earlier / MANIFEST_NAME)}
    for entry in earlier.iterdir():
        if entry.name in ours or (new / entry.name).exists():
            continue
        if entry.is_dir() and not entry.is_symlink():
            shutil.copytree(entry, new / entry.name, symlinks=True)
        else:
            shutil.copy2(entry, new / entry.name, follow_symlinks=False)


def _named_in(manifest: Path) -> set[str]:
    """The files that a manifest lists; none where it cannot be read."""
    try:
        return {str(file["name"]) for file in json.loads(manifest.read_bytes())["files"]}
    except (OSError, ValueError, LookupError, TypeError):
        return set()


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
