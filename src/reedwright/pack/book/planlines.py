"""On which line of a plan something stands, for messages.

TOML readers give values without their places, so the text is looked through again: headers of
tables are counted, then the key or the text is looked for beneath the right one. A header or key
inside of a text of several lines may be taken for one.

Public: `PlanLines`.
"""

from __future__ import annotations

import re

_HEADER = re.compile(r"\s*\[\[?\s*([\w.\"'-]+)\s*\]\]?\s*(?:#.*)?$")


class PlanLines:
    """A section is given by name and by how many of its name stand before it: `("chapter", 2)` is
    the third chapter, `("chapter.tunes", 0)` within that one the first `[[chapter.tunes]]`."""

    def __init__(self, text: str) -> None:
        self._lines = text.splitlines()
        self._headers = [
            (number, match[1].replace('"', "").replace("'", ""))
            for number, line in enumerate(self._lines)
            if (match := _HEADER.match(line))
        ]

    def has(self, *sections: tuple[str, int]) -> bool:
        """Whether there is such a section with a header."""
        *outer, (name, nth) = sections
        first, last = self._range(tuple(outer)) if outer else (0, len(self._lines))
        inside = [number for number, n in self._headers if n == name and first <= number < last]
        return len(inside) > nth

    def of_key(self, key: str, *sections: tuple[str, int]) -> int | None:
        """The line (from 1) of a key in a section, else of the section; None where there is
        neither. Without a section the key stands above all of them, or is one."""
        first, last = self._range(sections)
        written = re.compile(rf"\s*[\"']?{re.escape(key)}[\"']?\s*[=.]")
        inner = re.compile(rf"[{{,]\s*[\"']?{re.escape(key)}[\"']?\s*=")
        for number in range(first, last):
            if written.match(self._lines[number]):
                return number + 1
        for number, name in self._headers:
            if not sections and (name == key or name.startswith(f"{key}.")):
                return number + 1
        for number in range(first, last):
            if inner.search(self._lines[number]):
                return number + 1
        return first if sections and first else None

    def of_text(self, text: str, *sections: tuple[str, int]) -> int | None:
        """The first line within a section that has the text in quotation marks, else the
        section's own."""
        first, last = self._range(sections)
        quoted = (f'"{text}"', f"'{text}'", '"' + text.replace('"', '\\"') + '"')
        for number in range(first, last):
            if any(each in self._lines[number] for each in quoted):
                return number + 1
        return first if sections and first else None

    def _range(self, sections: tuple[tuple[str, int], ...]) -> tuple[int, int]:
        """The lines beneath the header, from 0, up to the next that does not belong to it."""
        first, last = 0, len(self._lines)
        if not sections:
            return 0, self._headers[0][0] if self._headers else last
        for name, nth in sections:
            inside = [number for number, n in self._headers if n == name and first <= number < last]
            if nth >= len(inside):
                return first, last
            first = inside[nth] + 1
            later = [
                number
                for number, n in self._headers
                if first <= number < last and not n.startswith(f"{name}.")
            ]
            last = min(later, default=last)
        return first, last
