"""Profiles from TOML files: those that come with the project and the user's own.

The user's files stand in the `profiles` folder of the configuration folder, or in the folder
that the environment variable `REEDWRIGHT_PROFILES` names (see `datafiles`). The format is
described in docs/effort.md.

Public: `load_profile`, `all_profiles`, `read_profile`, `ProfileError`.
"""

from __future__ import annotations

import math
from dataclasses import fields, replace
from pathlib import Path

from reedwright.datafiles import did_you_mean, files_by_name, is_path, read_toml, user_folders
from reedwright.errors import ReedwrightError
from reedwright.player.profile import HOLES, TECHNIQUES, Profile, Weights

SHIPPED = Path(__file__).with_name("data")
SHIPPED_NAMES = ("first-year", "player", "all-techniques")
FOLDER_VARIABLE = "REEDWRIGHT_PROFILES"

_KEYS = ("title", "description", "base", "techniques", "weights")
MOST = 1000.0
"""The largest weight: beyond it the weights stop meaning anything beside each other."""
_MUST_BE_POSITIVE = ("comfortable_seconds", "missing_note")


class ProfileError(ReedwrightError):
    """A profile that does not exist, or a profile file that cannot be used."""


def load_profile(name_or_path: str | Path) -> Profile:
    """A profile by name, or from the file at a path. Raises `ProfileError`."""
    return _load(str(name_or_path), ())


def all_profiles() -> dict[str, Profile]:
    """Every profile by name, the shipped ones first.

    Raises `ProfileError` where a user's file cannot be used or two have one name.
    """
    return {name: read_profile(path) for name, path in _files().items()}


def read_profile(path: Path) -> Profile:
    """Read and check one profile file. Raises `ProfileError` with file, key and what to do."""
    return _read(path, ())


def _files() -> dict[str, Path]:
    shipped = (SHIPPED / f"{name}.toml" for name in SHIPPED_NAMES)
    folders = user_folders("profiles", FOLDER_VARIABLE)
    return files_by_name(shipped, folders, "player profile", ProfileError)


def _load(text: str, based_from: tuple[Path, ...]) -> Profile:
    if is_path(text):
        beside = based_from[-1].parent if based_from else Path()
        return _read(beside / Path(text).expanduser(), based_from)
    files = _files()
    if text not in files:
        raise ProfileError(
            f"there is no player profile named '{text}'{did_you_mean(text, files)}; give one of "
            f"{', '.join(files)}, or the path of a .toml file"
        )
    return _read(files[text], based_from)


def _read(path: Path, based_from: tuple[Path, ...]) -> Profile:
    if path.resolve() in based_from:
        raise ProfileError(f"{path}: 'base' leads back to this file; base it on another profile")
    values = read_toml(path, "profile", ProfileError).values
    for key in values:
        if key not in _KEYS:
            known = (*_KEYS, *_weight_names())
            hint = did_you_mean(key, known)
            if key in _weight_names():
                hint = "; weights stand under the line [weights]"
            raise ProfileError(f"{path}: unknown key '{key}'{hint}")
    base = values.get("base")
    if base is not None and not isinstance(base, str):
        raise ProfileError(f"{path}: 'base' must be the name of a profile in quotation marks")
    start = (
        Profile(path.stem, path.stem)
        if base is None
        else _load(base, (*based_from, path.resolve()))
    )
    return Profile(
        name=path.stem,
        title=_text(path, values, "title", path.stem.replace("-", " ")),
        description=_text(path, values, "description", start.description),
        techniques=_techniques(path, values, start.techniques),
        weights=_weights(path, values.get("weights", {}), start.weights),
    )


def _text(path: Path, values: dict[str, object], key: str, default: str) -> str:
    value = values.get(key, default)
    if not isinstance(value, str):
        raise ProfileError(f"{path}: '{key}' must be text in quotation marks")
    return " ".join(value.split())


def _techniques(path: Path, values: dict[str, object], default: frozenset[str]) -> frozenset[str]:
    value = values.get("techniques")
    if value is None:
        return default
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise ProfileError(f"{path}: 'techniques' must be a list such as [\"draw bend\"]")
    for each in value:
        if each not in TECHNIQUES:
            raise ProfileError(
                f"{path}: 'techniques' has '{each}'{did_you_mean(each, TECHNIQUES)}; "
                f"there are {', '.join(TECHNIQUES)}"
            )
    return frozenset(value)


def _weights(path: Path, values: object, start: Weights) -> Weights:
    if not isinstance(values, dict):
        raise ProfileError(f"{path}: 'weights' must be a table: the line [weights], then weights")
    changed: dict[str, float | tuple[float, ...]] = {}
    for key, value in values.items():
        if key not in _weight_names():
            hint = did_you_mean(key, _weight_names()) or "; docs/effort.md lists all weights"
            raise ProfileError(f"{path}: unknown weight '{key}'{hint}")
        if key.endswith("_by_hole"):
            if not isinstance(value, list) or len(value) != HOLES:
                raise ProfileError(
                    f"{path}: weight '{key}' must be a list of {HOLES} numbers, one for each hole"
                )
            changed[key] = tuple(_number(path, key, each) for each in value)
        else:
            changed[key] = _number(path, key, value)
    return replace(start, **changed)  # type: ignore[arg-type]


def _number(path: Path, key: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ProfileError(f"{path}: weight '{key}' must be a number, not {value!r}")
    if not 0 <= value <= MOST or (key in _MUST_BE_POSITIVE and value == 0):
        least = "more than 0" if key in _MUST_BE_POSITIVE else "0"
        raise ProfileError(f"{path}: weight '{key}' is {value}; it must be {least} to {MOST:g}")
    if key == "after_rest" and value > 1:
        raise ProfileError(f"{path}: weight 'after_rest' is a share, 0 to 1, not {value}")
    return float(value)


def _weight_names() -> tuple[str, ...]:
    return tuple(each.name for each in fields(Weights))
