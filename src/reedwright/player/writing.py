"""Profiles made, copied and edited: files in the user's folder, their comments kept.

A file is checked before it is written, and written whole or not at all. The profiles that come
with the project stay as they are: they are copied, and the copy is edited.

Public: `Changes`, `parse_setting`, `new_profile`, `change_profile`, `new_class`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.datafiles import did_you_mean, is_path, read_toml
from reedwright.files import not_written, write_whole
from reedwright.player.checking import (
    ProfileError,
    lung_figure,
    lung_names,
    weight_names,
    weights_of,
)
from reedwright.player.loading import (
    SHIPPED,
    profile_files,
    profile_folders,
    profile_from_text,
    profile_path,
)
from reedwright.player.profile import Weights

if TYPE_CHECKING:
    from tomlkit import TOMLDocument

LUNGS_PREFIX = "lungs."

_NAME = re.compile(r"\w(?:[\w -]*\w)?")
_OTHERWISE = "choose another name, or say --overwrite"

Value = float | tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Changes:
    """What is to stand in a profile's file; None and absent names leave what is there.

    `values` are weights by name and figures of the lungs by `lungs.` and name, `unset` such
    names that shall be as in the base again. An empty `harps` means any harp.
    """

    title: str | None = None
    description: str | None = None
    techniques: tuple[str, ...] | None = None
    harps: tuple[str, ...] | None = None
    values: Mapping[str, Value] = field(default_factory=dict)
    unset: tuple[str, ...] = ()

    @property
    def nothing(self) -> bool:
        return self == Changes()


def parse_setting(text: str) -> tuple[str, Value]:
    """`leap_hole=0.6`, `lungs.blow_rate=0.25`, `bend_by_hole=1.1,1.2,...`: a name and its value.

    Raises `ProfileError` where there is no such weight or no number.
    """
    name, sign, value = (part.strip() for part in text.partition("="))
    if not sign or not name:
        raise ProfileError(f"'{text}' is not understood; write WEIGHT=VALUE, such as leap_hole=0.6")
    table, key = _place(name)
    try:
        numbers = [float(part) for part in value.split(",")]
    except ValueError:
        raise ProfileError(f"'{text}': '{value}' is not a number") from None
    if key.endswith("_by_hole"):
        weights_of(f"'{text}'", {key: numbers}, Weights())
        return name, tuple(numbers)
    if len(numbers) != 1:
        raise ProfileError(f"'{text}' has {len(numbers)} values; it takes one (a point, no comma)")
    if table == "weights":
        weights_of(f"'{text}'", {key: numbers[0]}, Weights())
    else:
        lung_figure(f"'{text}'", key, numbers[0])
    return name, numbers[0]


def new_profile(name: str, source: str, changes: Changes, overwrite: bool = False) -> Path:
    """Make the user's profile `name` from the profile `source` (name or path); returns its file.

    A profile that comes with the project becomes the base of the new one; of any other the
    file is copied, comments and all. Raises `ProfileError`, `NotWritten`.
    """
    import tomlkit

    path = _new_path(name, overwrite)
    source_path = profile_path(source)
    text = _text_of(source_path)
    if source_path.parent == SHIPPED:
        document = tomlkit.document()
        document["title"] = ""
        document["base"] = source_path.stem
    else:
        document = tomlkit.parse(text)
        _move_references(document, source_path, path)
    document["title"] = changes.title or name.replace("-", " ")
    _apply(document, changes)
    return _write(path, document)


def change_profile(name_or_path: str, changes: Changes) -> Path:
    """Change what `changes` says in a profile of the user's own; returns its file.

    Raises `ProfileError` (also for a profile that comes with the project), `NotWritten`.
    """
    import tomlkit

    path = profile_path(name_or_path)
    if path.parent == SHIPPED:
        raise ProfileError(
            f"'{path.stem}' comes with Reedwright and stays as it is; copy it and change the copy: "
            f"reedwright player new my-{path.stem} --from {path.stem}"
        )
    document = tomlkit.parse(_text_of(path))
    _apply(document, changes)
    return _write(path, document)


def new_class(name: str, members: Iterable[str], changes: Changes, overwrite: bool = False) -> Path:
    """Make the profile `name` of a class, the weakest of its members; returns its file.

    Members are names, or paths from where the user stands. Raises `ProfileError`, `NotWritten`.
    """
    import tomlkit

    path = _new_path(name, overwrite)
    found = []
    for member in members:
        profile_path(member)  # one that there is not is told of here, not as a fault in the file
        found.append(_reference(member, Path(), path.parent))
    if not found:
        raise ProfileError(f"'{name}' has nobody in it; name the profiles of the class")
    document = tomlkit.document()
    document["title"] = changes.title or name.replace("-", " ")
    document["class_of"] = list(dict.fromkeys(found))
    _apply(document, changes)
    return _write(path, document)


def _new_path(name: str, overwrite: bool) -> Path:
    """Where the profile `name` will lie. Names differ by more than capitals, for all disks."""
    if not _NAME.fullmatch(name):
        raise ProfileError(
            f"'{name}' cannot be the name of a profile; use letters, digits, '-' and '_', "
            "such as anna or second-year"
        )
    path = profile_folders()[0] / f"{name}.toml"
    for other, there in profile_files().items():
        if other.casefold() != name.casefold():
            continue
        if there.parent == SHIPPED:
            raise ProfileError(
                f"the profile '{other}' comes with Reedwright and stays as it is; "
                "choose another name"
            )
        if there != path:
            raise ProfileError(f"there is a profile '{other}' in {there}; choose another name")
        if not overwrite:
            raise ProfileError(f"there is a profile '{other}' in {there}; {_OTHERWISE}")
    if path.exists() and not overwrite:
        raise ProfileError(f"{path}: there is a file of that name; {_OTHERWISE}")
    return path


def _reference(text: str, from_folder: Path, to_folder: Path) -> str:
    """A profile named in one folder, as it is named in another: only paths change."""
    if not is_path(text):
        return text
    there = (from_folder / Path(text).expanduser()).resolve()
    return f"./{there.name}" if there.parent == to_folder.resolve() else str(there)


def _move_references(document: TOMLDocument, source: Path, target: Path) -> None:
    """Paths in a copied file still mean the same files."""
    folders = source.resolve().parent, target.parent
    if folders[0] == folders[1].resolve():
        return
    base = document.get("base")
    if isinstance(base, str):
        document["base"] = _reference(base, *folders)
    members = document.get("class_of")
    if isinstance(members, list):
        document["class_of"] = [_reference(str(each), *folders) for each in members]


def _apply(document: TOMLDocument, changes: Changes) -> None:
    import tomlkit

    for key, value in (
        ("title", changes.title),
        ("description", changes.description),
        ("techniques", changes.techniques),
        ("harps", changes.harps),
    ):
        if value is not None:
            document[key] = list(value) if isinstance(value, tuple) else value
    for name, number in changes.values.items():
        table, key = _place(name)
        entries = document.setdefault(table, {})
        if not isinstance(entries, dict):
            continue  # the check before writing says what is wrong there
        entries[key] = (
            [_plain(each) for each in number] if isinstance(number, tuple) else (_plain(number))
        )
    for name in changes.unset:
        table, key = _place(name)
        entries = document.get(table)
        if not isinstance(entries, dict) or key not in entries:
            raise ProfileError(
                f"'{name}' is not set in this profile's own file, so it cannot be unset"
            )
        del entries[key]
        if not entries and not tomlkit.dumps(entries).strip():  # nor a comment
            del document[table]


def _place(name: str) -> tuple[str, str]:
    """Table and key of a weight or a figure of the lungs. Raises `ProfileError`."""
    if name.startswith(LUNGS_PREFIX):
        key = name.removeprefix(LUNGS_PREFIX)
        if key not in lung_names():
            hint = did_you_mean(key, lung_names()) or f"; there are {', '.join(lung_names())}"
            raise ProfileError(f"the lungs have no figure '{key}'{hint}")
        return "lungs", key
    if name not in weight_names():
        if name in lung_names():
            raise ProfileError(f"'{name}' is a figure of the lungs; write {LUNGS_PREFIX}{name}")
        hint = did_you_mean(name, weight_names()) or (
            "; `reedwright player show NAME --all` lists all"
        )
        raise ProfileError(f"there is no weight '{name}'{hint}")
    return "weights", name


def _plain(number: float) -> float | int:
    """Whole numbers without a point, as people write them."""
    return int(number) if math.isfinite(number) and number.is_integer() else number


def _text_of(path: Path) -> str:
    """A profile's text with its own line ends, once it is sure that it can be read."""
    read_toml(path, "profile", ProfileError)
    return path.read_bytes().decode("utf-8")


def _write(path: Path, document: TOMLDocument) -> Path:
    text = document.as_string()
    profile_from_text(path, text)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise not_written(path.parent, error) from error
    write_whole(path.resolve(), text.encode())  # what a link points to, not the link
    return path
