"""The values of a profile file, checked one by one: each mistake is told with file and key.

`where` is what a message begins with: the file, or what somebody typed.

Public: `ProfileError`, `text_of`, `techniques_of`, `harps_of`, `members_of`, `weights_of`,
`lungs_of`, `lung_figure`, `profile_of`, `weight_names`, `lung_names`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import fields, replace
from pathlib import Path

from reedwright.datafiles import did_you_mean
from reedwright.errors import ReedwrightError
from reedwright.player.lungs import Lungs
from reedwright.player.profile import HOLES, TECHNIQUES, Profile, Weights

MOST = 1000.0
"""The largest weight: beyond it the weights stop meaning anything beside each other."""
MOST_LUNGS = 100.0
"""The largest figure of the lungs, litres or seconds or factor: far beyond any player."""
_MUST_BE_POSITIVE = ("comfortable_seconds", "missing_note")
_SHARES = ("after_rest",)

Where = str | Path


class ProfileError(ReedwrightError):
    """A profile that does not exist, or a profile file that cannot be used."""


def weight_names() -> tuple[str, ...]:
    return tuple(each.name for each in fields(Weights))


def lung_names() -> tuple[str, ...]:
    return tuple(each.name for each in fields(Lungs))


def text_of(where: Where, values: Mapping[str, object], key: str, default: str) -> str:
    """A text with its spaces tidied."""
    value = values.get(key, default)
    if not isinstance(value, str):
        raise ProfileError(f"{where}: '{key}' must be text in quotation marks")
    return " ".join(value.split())


def _texts(where: Where, value: object, key: str, such_as: str) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
        raise ProfileError(f"{where}: '{key}' must be a list such as {such_as}")
    return tuple(" ".join(each.split()) for each in value)


def techniques_of(where: Where, value: object, start: frozenset[str]) -> frozenset[str]:
    """The list `techniques`; those that the profile starts from where there is none."""
    if value is None:
        return start
    found = _texts(where, value, "techniques", '["draw bend"]')
    for each in found:
        if each not in TECHNIQUES:
            raise ProfileError(
                f"{where}: 'techniques' has '{each}'{did_you_mean(each, TECHNIQUES)}; "
                f"there are {', '.join(TECHNIQUES)}"
            )
    return frozenset(found)


def harps_of(where: Where, value: object, start: tuple[str, ...]) -> tuple[str, ...]:
    """The list `harps` as texts. What they say is read where harps are known: `tab.owning`."""
    if value is None:
        return start
    found = _texts(where, value, "harps", '["C", "G:richter-raised-3-blow:half", "low D"]')
    if not all(found):
        raise ProfileError(f"{where}: 'harps' has an empty entry; write a key such as \"C\"")
    return tuple(dict.fromkeys(found))


def members_of(where: Where, value: object) -> tuple[str, ...]:
    """The list `class_of`: names or paths of profiles, each once."""
    found = _texts(where, value, "class_of", '["first-year", "anna.toml"]')
    if not all(found):
        raise ProfileError(f"{where}: 'class_of' must name at least one profile and no empty one")
    if not found:
        raise ProfileError(f"{where}: 'class_of' names nobody; name the profiles of the class")
    return tuple(dict.fromkeys(found))


def weights_of(where: Where, value: object, start: Weights) -> Weights:
    """The table `[weights]` over the weights that the profile starts from."""
    if not isinstance(value, Mapping):
        raise ProfileError(f"{where}: 'weights' must be a table: the line [weights], then weights")
    changed: dict[str, float | tuple[float, ...]] = {}
    for key, each in value.items():
        if key not in weight_names():
            hint = did_you_mean(key, weight_names()) or "; docs/effort.md lists all weights"
            if key in lung_names():
                hint = "; figures of the lungs stand under the line [lungs]"
            raise ProfileError(f"{where}: unknown weight '{key}'{hint}")
        if key.endswith("_by_hole"):
            if not isinstance(each, list) or len(each) != HOLES:
                raise ProfileError(
                    f"{where}: weight '{key}' must be a list of {HOLES} numbers, one for each hole"
                )
            changed[key] = tuple(_weight(where, key, one) for one in each)
        else:
            changed[key] = _weight(where, key, each)
    return replace(start, **changed)  # type: ignore[arg-type]


def lungs_of(where: Where, value: object, start: Lungs) -> Lungs:
    """The table `[lungs]` over the lungs that the profile starts from. Every figure is above 0."""
    if not isinstance(value, Mapping):
        raise ProfileError(f"{where}: 'lungs' must be a table: the line [lungs], then its figures")
    changed: dict[str, float] = {}
    for key, each in value.items():
        if key not in lung_names():
            hint = did_you_mean(key, lung_names()) or f"; there are {', '.join(lung_names())}"
            if key in weight_names():
                hint = "; weights stand under the line [weights]"
            raise ProfileError(f"{where}: unknown figure '{key}' of the lungs{hint}")
        changed[key] = lung_figure(where, key, each)
    lungs = replace(start, **changed)
    if lungs.comfortable_litres > lungs.most_litres:
        raise ProfileError(
            f"{where}: lungs: 'comfortable_litres' ({lungs.comfortable_litres:g}) is more than "
            f"'most_litres' ({lungs.most_litres:g}), where the player must breathe; change one"
        )
    return lungs


def lung_figure(where: Where, key: str, value: object) -> float:
    """One figure of the lungs by itself."""
    number = _number(where, f"lungs: '{key}'", value)
    if not 0 < number <= MOST_LUNGS:
        raise ProfileError(
            f"{where}: lungs: '{key}' is {number:g}; "
            f"it must be more than 0 and at most {MOST_LUNGS:g}"
        )
    return number


def profile_of(path: Path, values: Mapping[str, object], start: Profile) -> Profile:
    """The profile that a file's values make of the one that it starts from.

    Name, title and description are the file's own: the base's would tell of another player.
    """
    return Profile(
        name=path.stem,
        title=text_of(path, values, "title", path.stem.replace("-", " ")),
        description=text_of(path, values, "description", ""),
        techniques=techniques_of(path, values.get("techniques"), start.techniques),
        weights=weights_of(path, values.get("weights", {}), start.weights),
        lungs=lungs_of(path, values.get("lungs", {}), start.lungs),
        harps=harps_of(path, values.get("harps"), start.harps),
    )


def _weight(where: Where, key: str, value: object) -> float:
    number = _number(where, f"weight '{key}'", value)
    if not 0 <= number <= MOST or (key in _MUST_BE_POSITIVE and number == 0):
        least = "more than 0" if key in _MUST_BE_POSITIVE else "0"
        raise ProfileError(f"{where}: weight '{key}' is {number:g}; it must be {least} to {MOST:g}")
    if key in _SHARES and number > 1:
        raise ProfileError(f"{where}: weight '{key}' is a share, 0 to 1, not {value}")
    return number


def _number(where: Where, what: str, value: object) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise ProfileError(f"{where}: {what} must be a number, not {value!r}")
    return float(value)
