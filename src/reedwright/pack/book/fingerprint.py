"""What an engraved tune depends on, as one short text that changes when any of it does.

Public: `key_of`, `key_of_values`.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping, Sequence, Set
from dataclasses import fields
from enum import Enum
from fractions import Fraction
from functools import cache, lru_cache
from importlib.metadata import PackageNotFoundError, version
from operator import attrgetter
from pathlib import Path
from typing import Any

import reedwright
from reedwright.harp.tunings import all_tunings
from reedwright.pack.book.model import PlannedTune
from reedwright.page.book.model import BookLook
from reedwright.tune.model import Pitch, Place, Tune

MAKERS = ("verovio", "typst", "numpy", "scipy", "segno")
"""Programs of others whose versions can change what is engraved."""

_RULES = (".py", ".toml", ".typ", ".ttf", ".otf")
_APART = ("cli", "shelf", "takes", "web")
"""Rooms that no page goes by."""


def key_of(planned: PlannedTune, look: BookLook) -> str:
    """SHA-256, hexadecimal, of all that `entry_of` goes by: the tune as read, how it is to be
    played, the look, every file of this program, the versions of the others.

    Where a tune stands in its file does not count: it may move when another is added.
    """
    any_harp = planned.harp is None and not planned.harps
    template = "" if look.template is None else _digest_of(look.template)
    return key_of_values((_tunings() if any_harp else "", planned, look, template))


def key_of_values(values: object) -> str:
    """The same of anything made of dataclasses, tuples, mappings, sets, texts and numbers."""
    parts = [_rules()]
    _tell(values, parts)
    return hashlib.sha256("\x1f".join(parts).encode("utf-8", "surrogatepass")).hexdigest()


def _tell(value: Any, parts: list[str]) -> None:
    """Append the value's parts in an order that is the same in every process."""
    kind: Any = type(value)
    if kind is str:
        parts.append(f"{len(value)}:{value}")
    elif kind in _PLAIN:
        parts.append(repr(value))
    elif kind is Pitch:  # by hand: there are very many
        parts.append(f"{value.step}{value.alter}/{value.octave}")
    elif kind is Place:
        return
    elif kind is Fraction:
        parts.append(f"{value.numerator}/{value.denominator}")
    else:
        _teller(kind)(value, parts)


_PLAIN = {int, float, bool, type(None), bytes}


@cache
def _teller(kind: type[Any]) -> Callable[[Any, list[str]], None]:
    """How values of a kind are told; looked up once for each kind, as there are many values."""
    if issubclass(kind, Enum):
        return lambda value, parts: parts.append(f"{kind.__name__}.{value.name}")
    if issubclass(kind, Mapping):
        return _tell_mapping
    if issubclass(kind, Set):
        return _tell_set
    if issubclass(kind, Sequence):  # named tuples, too
        return _tell_sequence
    if issubclass(kind, Path):
        return lambda value, parts: parts.append(value.name)
    names, get = _fields(kind)

    def tell(value: Any, parts: list[str]) -> None:
        parts.append(f"[{kind.__name__}")
        for name, each in zip(names, get(value), strict=True):
            parts.append(name)
            _tell(each, parts)

    return tell


def _tell_mapping(value: Mapping[Any, Any], parts: list[str]) -> None:
    parts.append(f"{{{len(value)}")
    for name in sorted(value, key=repr):
        _tell(name, parts)
        _tell(value[name], parts)


def _tell_set(value: Set[Any], parts: list[str]) -> None:
    parts.append(f"<{len(value)}")
    parts += sorted(_told(each) for each in value)


def _tell_sequence(value: Sequence[Any], parts: list[str]) -> None:
    parts.append(f"({len(value)}")
    for each in value:
        _tell(each, parts)


def _told(value: Any) -> str:
    parts: list[str] = []
    _tell(value, parts)
    return "\x1e".join(parts)


def _fields(kind: type[Any]) -> tuple[tuple[str, ...], Any]:
    """Names of a dataclass's fields and what gets them all."""
    left_out = {"source", "problems"} if kind is Tune else set()
    names = tuple(each.name for each in fields(kind) if each.name not in left_out)
    if len(names) == 1:
        only = attrgetter(names[0])
        return names, lambda value: (only(value),)
    return names, attrgetter(*names)


@lru_cache(maxsize=1)
def _rules() -> str:
    """Of every file of this program that has rules in it, and the others' versions.

    The files and not the version alone: whoever changes a rule need not think of this.
    """
    digest = hashlib.sha256()
    root = Path(reedwright.__file__).parent
    for path in sorted(root.rglob("*")):
        inside = path.relative_to(root)
        if path.suffix in _RULES and inside.parts[0] not in _APART:
            digest.update(inside.as_posix().encode())
            digest.update(path.read_bytes())
    for name in MAKERS:
        try:
            digest.update(f"{name} {version(name)}".encode())
        except PackageNotFoundError:
            digest.update(f"{name} unknown".encode())
    return digest.hexdigest()


@lru_cache(maxsize=1)
def _tunings() -> str:
    """Of every tuning, the user's own too: any harp may be chosen."""
    return _told(all_tunings())


def _digest_of(path: Path) -> str:
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return "unreadable"
