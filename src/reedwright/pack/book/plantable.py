"""A table of a plan's file: its values taken one by one, each with its kind checked.

Public: `PlanTable`, `PlanError`, `Sections`.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from reedwright.datafiles import did_you_mean
from reedwright.errors import ReedwrightError
from reedwright.pack.book.planlines import PlanLines
from reedwright.tab.ornaments.model import Amount

Sections = tuple[tuple[str, int], ...]
"""Where a table stands, as `PlanLines` takes it."""


class PlanError(ReedwrightError):
    """A plan that cannot be used as it is written."""


class PlanTable:
    """A table of the file, its values taken one by one with their kind checked."""

    def __init__(
        self,
        path: Path,
        lines: PlanLines,
        values: Mapping[str, Any],
        sections: Sections = (),
        text: str = "",
    ) -> None:
        self.path, self.values, self.sections = path, values, sections
        self._lines, self._text = lines, text

    def inner(
        self, values: Mapping[str, Any], section: tuple[str, int], text: str = ""
    ) -> PlanTable:
        """A table of this one."""
        return PlanTable(self.path, self._lines, values, (*self.sections, section), text)

    def where(self, key: str = "") -> str:
        """`plan.toml, line 3`."""
        if self._text:
            return self.where_text(self._text)
        return self._at(self._lines.of_key(key, *self.sections))

    @property
    def stands_alone(self) -> bool:
        """Whether it has a header of its own, and is no table in braces."""
        return self._lines.has(*self.sections)

    def where_text(self, text: str) -> str:
        """The same for a text that stands in it."""
        return self._at(self._lines.of_text(text, *self.sections))

    def _at(self, line: int | None) -> str:
        return str(self.path) + (f", line {line}" if line else "")

    def refuse(self, key: str, message: str) -> PlanError:
        return PlanError(f"{self.where(key)}: {message}")

    def check(self, known: tuple[str, ...]) -> None:
        for key in self.values:
            if key not in known:
                hint = did_you_mean(key, known) or f"; known are {', '.join(known)}"
                raise self.refuse(key, f"unknown key '{key}'{hint}")

    def text(self, key: str) -> str:
        value = self.values.get(key, "")
        if not isinstance(value, str):
            raise self.refuse(key, f"'{key}' must be a text in quotation marks")
        return value.strip()

    def texts(self, key: str) -> tuple[str, ...]:
        """A list of texts, or one alone."""
        value = self.values.get(key, [])
        if isinstance(value, str):
            value = [value]
        if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
            raise self.refuse(key, f"'{key}' must be a text, or a list of texts in brackets")
        return tuple(each.strip() for each in value if each.strip())

    def paragraphs(self, key: str) -> tuple[str, ...]:
        """A list of them, or one text with an empty line between them."""
        parts = [part for text in self.texts(key) for part in text.split("\n\n")]
        return tuple(" ".join(part.split()) for part in parts if part.strip())

    def whole(self, key: str, lowest: int, highest: int) -> int | None:
        value = self.values.get(key)
        if value is None:
            return None
        if not isinstance(value, int) or isinstance(value, bool) or not lowest <= value <= highest:
            raise self.refuse(key, f"'{key}' must be a whole number from {lowest} to {highest}")
        return value

    def number(self, key: str, lowest: float, highest: float) -> float | None:
        value = self.values.get(key)
        if value is None:
            return None
        if not isinstance(value, int | float) or isinstance(value, bool):
            raise self.refuse(key, f"'{key}' must be a number")
        if not lowest <= value <= highest:
            raise self.refuse(key, f"'{key}' must be a number from {lowest:g} to {highest:g}")
        return float(value)

    def flag(self, key: str) -> bool | None:
        value = self.values.get(key)
        if value is not None and not isinstance(value, bool):
            raise self.refuse(key, f"'{key}' must be true or false")
        return value

    def one_of(self, key: str, words: tuple[str, ...], default: str) -> str:
        value = self.values.get(key, default)
        if value not in words:
            hint = did_you_mean(value, words) if isinstance(value, str) else ""
            raise self.refuse(key, f"'{key}' must be one of {', '.join(words)}{hint}")
        return str(value)

    def amount(self, key: str) -> Amount | None:
        if key not in self.values:
            return None
        words = {"written" if each is Amount.WRITTEN else each.value: each for each in Amount}
        return words[self.one_of(key, tuple(words), "written")]

    def tables(self, key: str) -> list[Mapping[str, Any]]:
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(each, Mapping) for each in value):
            raise self.refuse(key, f"write [[{key}]] with two brackets: there may be several")
        return value

    def address(self, key: str) -> str:
        """Of the web."""
        address = self.text(key)
        if address and not address.startswith(("https://", "http://")):
            raise self.refuse(key, f"'{key}' must begin with https://")
        return address

    def table(self, key: str) -> Mapping[str, Any] | None:
        value = self.values.get(key)
        if value is not None and not isinstance(value, Mapping):
            raise self.refuse(key, f"'{key}' must be a table: a line [{key}] and keys below it")
        return value
