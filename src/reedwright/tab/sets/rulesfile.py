"""A player's rules for sets, from a TOML file of the player's own (docs/sets.md has the keys).

Public: `read_rules`, `rules_from`, `RULE_KEYS`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from math import inf
from pathlib import Path

from reedwright.datafiles import TomlFile, did_you_mean, read_toml
from reedwright.tab.sets.rules import NO_RULES, SetRules, Weights
from reedwright.tab.sets.traits import family_of
from reedwright.tab.sets.wishes import SetsError

MOST_WEIGHT = 100.0
_WEIGHT_NAMES = tuple(each.name for each in fields(Weights))

RULE_KEYS = (
    "size", "usual", "times", "set_minutes", "break_seconds", "mixed", "types", "hardest", "keep",
    "follow", "apart", "first", "last", "most_harps", "weights",
)  # fmt: skip


def read_rules(path: Path) -> SetRules:
    """The rules of a file. Raises `SetsError` with file, line and what to do."""
    return rules_from(read_toml(path, "rules", SetsError), path)


def rules_from(file: TomlFile, path: Path) -> SetRules:
    """The rules of a file that was read already. Raises `SetsError`."""
    return _Reader(file, path).rules()


class _Reader:
    def __init__(self, file: TomlFile, path: Path) -> None:
        self._file, self._path, self._values = file, path, file.values

    def rules(self) -> SetRules:
        for key in self._values:
            if key not in RULE_KEYS:
                near = did_you_mean(key, RULE_KEYS) or f"; there are {', '.join(RULE_KEYS)}"
                raise self._wrong(key, f"there is no rule '{key}'{near}")
        fewest, most = self._span("size", (NO_RULES.fewest, NO_RULES.most))
        if fewest != int(fewest) or most != int(most):
            raise self._wrong("size", "'size' must be two whole numbers, such as [2, 4]")
        usual = self._whole("usual", min(most, max(fewest, NO_RULES.usual)))
        minutes = self._span("set_minutes", (0, 0)) if "set_minutes" in self._values else None
        try:
            return SetRules(
                fewest=int(fewest),
                most=int(most),
                usual=int(usual),
                times=self._whole("times", NO_RULES.times),
                set_minutes=minutes,
                break_seconds=self._number("break_seconds", NO_RULES.break_seconds),
                mixed=tuple(self._pair_of_types(pair) for pair in self._lists("mixed", 2)),
                types=tuple(self._type("types", each) for each in self._texts("types")),
                hardest=self._text("hardest", NO_RULES.hardest),
                keep=self._lists("keep", None),
                follow=tuple((one, two) for one, two in self._lists("follow", 2)),
                apart=tuple((one, two) for one, two in self._lists("apart", 2)),
                first=self._text("first", ""),
                last=self._text("last", ""),
                most_harps=self._whole("most_harps", 1) if "most_harps" in self._values else None,
                weights=self._weights(),
            )
        except SetsError as error:
            if str(error).startswith(str(self._path)):
                raise
            raise SetsError(f"{self._path}: {error}") from None

    def _wrong(self, key: str, words: str, section: str = "") -> SetsError:
        return SetsError(f"{self._file.place(self._path, key, section)}: {words}")

    def _text(self, key: str, default: str) -> str:
        value = self._values.get(key, default)
        if not isinstance(value, str):
            raise self._wrong(key, f"'{key}' must be text in quotation marks")
        return " ".join(value.split())

    def _number(self, key: str, default: float) -> float:
        value = self._values.get(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 <= value < inf:
            raise self._wrong(key, f"'{key}' must be a number, 0 or more")
        return float(value)

    def _whole(self, key: str, default: int | float) -> int:
        value = self._number(key, default)
        if value != int(value):
            raise self._wrong(key, f"'{key}' must be a whole number")
        return int(value)

    def _span(self, key: str, default: tuple[float, float]) -> tuple[float, float]:
        value = self._values.get(key, list(default))
        if isinstance(value, list) and len(value) == 2 and all(map(_is_number, value)):
            least, most = float(value[0]), float(value[1])
            if 0 <= least <= most:
                return least, most
        raise self._wrong(key, f"'{key}' must be two numbers, least and most, such as [2, 4]")

    def _texts(self, key: str) -> tuple[str, ...]:
        value = self._values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
            raise self._wrong(key, f'\'{key}\' must be a list of texts such as ["reel", "jig"]')
        return tuple(" ".join(each.split()) for each in value)

    def _lists(self, key: str, length: int | None) -> tuple[tuple[str, ...], ...]:
        value = self._values.get(key, [])
        many = "two" if length == 2 else "two or more"
        good = isinstance(value, list) and all(
            isinstance(each, list)
            and all(isinstance(name, str) for name in each)
            and (len(each) == length if length else len(each) > 0)
            for each in value
        )
        if not good or not isinstance(value, list):
            raise self._wrong(key, f'\'{key}\' must be lists of {many} names, such as [["A", "B"]]')
        return tuple(tuple(" ".join(name.split()) for name in each) for each in value)

    def _type(self, key: str, name: str) -> str:
        found = family_of(name)
        if not found:
            raise self._wrong(key, f"'{name}' is no type of tune, such as reel, jig or waltz")
        return found

    def _pair_of_types(self, pair: tuple[str, ...]) -> tuple[str, str]:
        one, two = pair
        return self._type("mixed", one), self._type("mixed", two)

    def _weights(self) -> Weights:
        table = self._values.get("weights", {})
        if not isinstance(table, Mapping):
            raise self._wrong("weights", "write the line [weights], then one weight to a line")
        found: dict[str, float] = {}
        for key, value in table.items():
            if key not in _WEIGHT_NAMES:
                near = did_you_mean(key, _WEIGHT_NAMES) or f"; there are {', '.join(_WEIGHT_NAMES)}"
                raise self._wrong(key, f"there is no weight '{key}'{near}", "weights")
            if not _is_number(value) or not 0 <= value <= MOST_WEIGHT:
                raise self._wrong(
                    key, f"weight '{key}' must be a number, 0 to {MOST_WEIGHT:g}", "weights"
                )
            found[key] = float(value)
        return Weights(**found)


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
