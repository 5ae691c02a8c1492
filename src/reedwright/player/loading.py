"""Profiles from TOML files: those that come with the project and the user's own.

A profile's name is its file's name without `.toml`. The user's files stand in the
`profiles` folder of the configuration folder, or in the folder that the environment variable
`REEDWRIGHT_PROFILES` names; any other file is used by its path. The format is
described in docs/effort.md.

Public: `load_profile`, `all_profiles`, `read_profile`, `ProfileError`.
"""

from __future__ import annotations

import difflib
import math
import os
import tomllib
from collections.abc import Iterable
from dataclasses import fields, replace
from functools import lru_cache
from pathlib import Path

from reedwright.errors import ReedwrightError
from reedwright.player.profile import HOLES, TECHNIQUES, Profile, Weights

SHIPPED = Path(__file__).with_name("data")
SHIPPED_NAMES = ("first-year", "player", "all-techniques")
FOLDER_VARIABLE = "REEDWRIGHT_PROFILES"

_KEYS = ("title", "description", "base", "techniques", "weights")
MOST = 1000.0
"""The largest weight: beyond it the weights stop meaning anything beside each other."""
_MUST_BE_POSITIVE = ("comfortable_seconds", "grace_seconds", "missing_note")


class ProfileError(ReedwrightError):
    """A profile that does not exist, or a profile file that cannot be used."""


def load_profile(name_or_path: str | Path) -> Profile:
    """A profile by name, or from the file at a path. Raises `ProfileError`."""
    return _load(str(name_or_path), ())


def all_profiles() -> dict[str, Profile]:
    """Every profile by name, the shipped ones first. Raises `ProfileError` for a bad file."""
    return {path.stem: read_profile(path) for path in _files()}


def user_folders() -> tuple[Path, ...]:
    """Where a user's own profiles are looked for, whether the folders exist or not."""
    import platformdirs

    own = Path(platformdirs.user_config_dir("reedwright")) / "profiles"
    named = os.environ.get(FOLDER_VARIABLE)
    return (Path(named), own) if named else (own,)


def read_profile(path: Path) -> Profile:
    """Read and check one profile file. Raises `ProfileError` with file, key and what to do."""
    return _read(path, ())


def _files() -> list[Path]:
    found = {name: SHIPPED / f"{name}.toml" for name in SHIPPED_NAMES}
    for folder in user_folders():
        if folder.is_dir():
            for path in sorted(folder.glob("*.toml")):
                found.setdefault(path.stem, path)
    return list(found.values())


def _load(text: str, based_from: tuple[Path, ...]) -> Profile:
    if text.endswith(".toml") or "/" in text or os.sep in text:
        beside = based_from[-1].parent if based_from else Path()
        return _read(beside / Path(text).expanduser(), based_from)
    if text in SHIPPED_NAMES:
        return _read(SHIPPED / f"{text}.toml", based_from)
    names = {path.stem: path for path in _files()}
    if text not in names:
        raise ProfileError(
            f"there is no player profile named '{text}'{_did_you_mean(text, names)}; give one of "
            f"{', '.join(names)}, or the path of a .toml file"
        )
    return _read(names[text], based_from)


def _read(path: Path, based_from: tuple[Path, ...]) -> Profile:
    if path.resolve() in based_from:
        raise ProfileError(f"{path}: 'base' leads back to this file; base it on another profile")
    try:
        changed = path.stat().st_mtime_ns
    except FileNotFoundError:
        raise ProfileError(f"{path}: there is no such profile file") from None
    except OSError as error:
        raise ProfileError(f"{path}: the profile file cannot be read: {error}") from None
    values = _values(path, changed)
    for key in values:
        if key not in _KEYS:
            known = (*_KEYS, *_weight_names())
            hint = _did_you_mean(key, known)
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


@lru_cache(maxsize=64)
def _values(path: Path, _changed: int) -> dict[str, object]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except tomllib.TOMLDecodeError as error:
        raise ProfileError(f"{path}: not a valid TOML file: {error}") from None
    except (OSError, UnicodeDecodeError) as error:
        raise ProfileError(f"{path}: the profile file cannot be read: {error}") from None


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
                f"{path}: 'techniques' has '{each}'{_did_you_mean(each, TECHNIQUES)}; "
                f"there are {', '.join(TECHNIQUES)}"
            )
    return frozenset(value)


def _weights(path: Path, values: object, start: Weights) -> Weights:
    if not isinstance(values, dict):
        raise ProfileError(f"{path}: 'weights' must be a table: the line [weights], then weights")
    changed: dict[str, float | tuple[float, ...]] = {}
    for key, value in values.items():
        if key not in _weight_names():
            hint = _did_you_mean(key, _weight_names()) or "; docs/effort.md lists all weights"
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


def _did_you_mean(word: str, known: Iterable[str]) -> str:
    near = difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)
    return f", did you mean '{near[0]}'?" if near else ""
