"""On which line of an arrangement file something stands, and the comment behind it.

TOML readers give values without their places. This walks over the text once, strings and
comments in mind, for messages that name a line and for comments that move with an entry.

Public: `FileLines`, `Mark`.
"""

from __future__ import annotations

import re
from typing import NamedTuple

_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"""'
    r"|'''.*?'''"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'"
    r"|#[^\n]*"
    r"|[\[\]{}\n]",
    re.DOTALL,
)
_HEADER = re.compile(r"\s*(\[\[?)\s*([\w.\s\"'-]+?)\s*\]\]?")
_KEY = re.compile(r"\s*([\w.-]+|\"[^\"\n]*\")\s*=")
_COMMENT_BEHIND = re.compile(r"[ \t]*,?[ \t]*#[ \t]*([^\n]*)")


class Mark(NamedTuple):
    """A place in the file: its line from 1, and the comment behind it (without `#`)."""

    line: int
    comment: str = ""


class FileLines:
    """Marks of keys and of entries of lists, by table of the tune (from 0)."""

    def __init__(self, text: str) -> None:
        self._marks: dict[tuple[int | None, str, int | None], Mark] = {}
        self._walk(text)

    def line(self, table: int | None, key: str = "", entry: int | None = None) -> int | None:
        """The line of an entry, else of its key, else of its table; None where not found."""
        for wanted in ((table, key, entry), (table, key, None), (table, "", None)):
            mark = self._marks.get(wanted)
            if mark is not None:
                return mark.line
        return None

    def comment(self, table: int, key: str, entry: int) -> str:
        mark = self._marks.get((table, key, entry))
        return mark.comment if mark else ""

    def _walk(self, text: str) -> None:
        table: int | None = None
        tables = 0
        prefix = ""
        key = ""
        depth = braces = entry = 0
        at = line = 0
        fresh = True  # at the start of a line outside of all brackets
        counts: dict[tuple[int | None, str], int] = {}
        while at < len(text):
            if fresh and depth == 0:
                header = _HEADER.match(text, at)
                named = _KEY.match(text, at)
                here = line + 1
                if header is not None:
                    here += header[0].count("\n")
                    name = header[2].replace(" ", "")
                    if name == "tune" and header[1] == "[[":
                        table, tables, prefix, key = tables, tables + 1, "", ""
                    elif name.startswith("tune."):
                        prefix = name.removeprefix("tune.")
                        if header[1] == "[[":
                            number = counts.get((table, prefix), 0)
                            counts[table, prefix] = number + 1
                            self._marks[table, prefix, number] = Mark(here)
                            prefix, key = "", prefix
                        else:
                            key = prefix
                    else:
                        table, prefix, key = None, "", name
                    self._marks.setdefault((table, key, None), Mark(here))
                    line += header[0].count("\n")
                    at = header.end()
                    fresh = False
                    continue
                if named is not None:
                    here += named[0].count("\n")
                    key = ".".join(filter(None, (prefix, named[1].strip('"'))))
                    self._marks.setdefault((table, key, None), Mark(here))
                    entry = 0
                    line += named[0].count("\n")
                    at = named.end()
                    fresh = False
                    continue
            token = _TOKEN.search(text, at)
            if token is None:
                break
            sign = token[0]
            at = token.end()
            fresh = sign == "\n"
            if sign == "[":
                depth += 1
            elif sign == "]":
                depth -= 1
            elif sign == "{":
                if depth == 1 and braces == 0:
                    self._marks[table, key, entry] = Mark(line + 1)
                braces += 1
                depth += 1
            elif sign == "}":
                braces -= 1
                depth -= 1
                if depth == 1 and braces == 0:
                    behind = _COMMENT_BEHIND.match(text, at)
                    mark = self._marks[table, key, entry]
                    self._marks[table, key, entry] = mark._replace(
                        comment=behind[1].strip() if behind else ""
                    )
                    entry += 1
            line += sign.count("\n")
