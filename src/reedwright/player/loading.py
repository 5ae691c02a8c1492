"""Profiles from TOML files: those that come with the project and the user's own.

The user's files stand in the `profiles` folder of the configuration folder, or in the folder
that the environment variable `REEDWRIGHT_PROFILES` names (see `datafiles`). The format is
described in docs/effort.md and docs/players.md.

Public: `load_profile`, `all_profiles`, `read_profile`, `profile_from_text`, `profile_files`,
`profile_path`, `origin`, `Origin`, `ProfileError`.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

from reedwright.datafiles import did_you_mean, files_by_name, is_path, read_toml, user_folders
from reedwright.player.checking import ProfileError as ProfileError
from reedwright.player.checking import (
    lung_names,
    members_of,
    profile_of,
    weight_names,
)
from reedwright.player.classes import class_profile
from reedwright.player.profile import Profile

SHIPPED = Path(__file__).with_name("data")
SHIPPED_NAMES = ("first-year", "player", "all-techniques")
FOLDER_VARIABLE = "REEDWRIGHT_PROFILES"

KEYS = ("title", "description", "base", "class_of", "techniques", "harps", "weights", "lungs")


def load_profile(name_or_path: str | Path) -> Profile:
    """A profile by name, or from the file at a path. Raises `ProfileError`."""
    return _load(str(name_or_path), ())


def all_profiles() -> dict[str, Profile]:
    """Every profile by name, the shipped ones first.

    Raises `ProfileError` where a user's file cannot be used or two have one name.
    """
    return {name: read_profile(path) for name, path in profile_files().items()}


def read_profile(path: Path) -> Profile:
    """Read and check one profile file. Raises `ProfileError` with file, key and what to do."""
    return _read(path, ())


def profile_from_text(path: Path, text: str) -> Profile:
    """The profile that a file at `path` would give if it held `text`. Raises `ProfileError`."""
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ProfileError(f"{path}: not a valid TOML file: {error}") from None
    return _made(path, values, ())


def profile_files() -> dict[str, Path]:
    """The file of every profile by name: the shipped ones, then the user's."""
    shipped = (SHIPPED / f"{name}.toml" for name in SHIPPED_NAMES)
    return files_by_name(shipped, profile_folders(), "player profile", ProfileError)


def profile_folders() -> tuple[Path, ...]:
    """Where the user's own profiles are looked for; new ones go into the first."""
    return user_folders("profiles", FOLDER_VARIABLE)


def profile_path(name_or_path: str) -> Path:
    """The file of a profile. Raises `ProfileError` where there is no profile of that name."""
    if is_path(name_or_path):
        return Path(name_or_path).expanduser()
    files = profile_files()
    if name_or_path not in files:
        raise ProfileError(
            f"there is no player profile named '{name_or_path}'"
            f"{did_you_mean(name_or_path, files)}; give one of "
            f"{', '.join(files)}, or the path of a .toml file"
        )
    return files[name_or_path]


class Origin(NamedTuple):
    """Where a profile comes from: its file, whether it ships with the project, and its start.

    `start` is the profile before the file's own techniques, harps, weights and lungs: the base,
    the class of the members, or the defaults. `base` and `class_of` are as the file says it,
    `members` the profiles of a class.
    """

    path: Path
    shipped: bool
    start: Profile
    base: str | None
    class_of: tuple[str, ...] = ()
    members: tuple[Profile, ...] = ()


def origin(name_or_path: str) -> Origin:
    """Where a profile comes from. Raises `ProfileError`."""
    path = profile_path(name_or_path)
    values = read_toml(path, "profile", ProfileError).values
    start = _start(path, values, ())
    base = values.get("base")
    members = _members(path, values, (path.resolve(),)) if "class_of" in values else ()
    return Origin(
        path,
        path.parent == SHIPPED,
        start,
        base if isinstance(base, str) else None,
        members_of(path, values["class_of"]) if "class_of" in values else (),
        members,
    )


def _load(text: str, based_from: tuple[Path, ...]) -> Profile:
    if is_path(text):
        beside = based_from[-1].parent if based_from else Path()
        return _read(beside / Path(text).expanduser(), based_from)
    return _read(profile_path(text), based_from)


def _read(path: Path, based_from: tuple[Path, ...]) -> Profile:
    return _made(path, read_toml(path, "profile", ProfileError).values, based_from)


def _made(path: Path, values: Mapping[str, object], based_from: tuple[Path, ...]) -> Profile:
    for key in values:
        if key not in KEYS:
            hint = did_you_mean(key, (*KEYS, *weight_names(), *lung_names()))
            if key in lung_names():
                hint = "; figures of the lungs stand under the line [lungs]"
            if key in weight_names():
                hint = "; weights stand under the line [weights]"
            raise ProfileError(f"{path}: unknown key '{key}'{hint}")
    return profile_of(path, values, _start(path, values, based_from))


def _start(path: Path, values: Mapping[str, object], based_from: tuple[Path, ...]) -> Profile:
    """What the file's own values are laid over: its base, its class, or the defaults."""
    here = path.resolve()
    if here in based_from:
        raise ProfileError(
            f"{path}: 'base' or 'class_of' leads back to this file; name another profile there"
        )
    base = values.get("base")
    if base is not None and not isinstance(base, str):
        raise ProfileError(f"{path}: 'base' must be the name of a profile in quotation marks")
    if base is not None and "class_of" in values:
        raise ProfileError(f"{path}: 'base' and 'class_of' exclude each other; leave out one")
    if base is not None:
        return _load(base, (*based_from, here))
    if "class_of" not in values:
        return Profile(path.stem, path.stem)
    members = _members(path, values, (*based_from, here))
    try:
        return class_profile(members, path.stem, harps=() if "harps" in values else None)
    except ProfileError as error:
        raise ProfileError(f"{path}: {error}") from None


def _members(
    path: Path, values: Mapping[str, object], based_from: tuple[Path, ...]
) -> tuple[Profile, ...]:
    return tuple(_load(each, based_from) for each in members_of(path, values["class_of"]))
