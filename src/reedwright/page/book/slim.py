"""Engraved systems made lighter for a book: the same drawing in fewer parts.

A book has some fifteen hundred systems, and what the press needs of time and memory goes by the
parts of their drawings.

Public: `slim`.
"""

from __future__ import annotations

import re

# What Verovio's style sheet says of these classes.
_BOLD = frozenset(("ending", "fing", "reh", "tempo"))
_ITALIC = frozenset(("dir", "dynam", "mNum"))
_STYLE = "<style>ellipse,path,polygon,polyline,rect{stroke:currentColor}</style>"

_SHEET = re.compile(r"<style.*?</style>", re.DOTALL)
_HIDDEN = re.compile(r'<g[^>]* class="[^"]*placeholder[^"]*">(?:<(?!/?g\b)[^>]*>)*</g>')
_NAME = re.compile(r' id="[^"]*"')
_CLASS = re.compile(r' class="([^"]*)"')
_NOTHING = re.compile(r"<g [^>]*/>|<g />")
_PLAIN = re.compile(r"<g>([^<]*(?:<(?!/?g\b)[^>]*>[^<]*)*)</g>")
_LINES = re.compile(
    r'<path d="M-?\d+ -?\d+ L-?\d+ -?\d+" stroke-width="(\d+)" />'
    r'(?:<path d="M-?\d+ -?\d+ L-?\d+ -?\d+" stroke-width="\1" />)+'
)
_LINE = re.compile(r' d="([^"]*)"')
_DEEPEST = 12  # groups within one another


def slim(svg: str) -> str:
    """The system's drawing with no names, classes and groups that paper does not need.

    Lines of one width that follow one another become one path.
    """
    head, end, body = svg.partition("</defs>")
    if not end:
        return svg
    body = _HIDDEN.sub("", body)
    body = _CLASS.sub(_plain_style, _NAME.sub("", _SHEET.sub(_STYLE, body)))
    body = _NOTHING.sub("", body)
    for _ in range(_DEEPEST):
        body, count = _PLAIN.subn(r"\1", body)
        if not count:
            break
    return head + end + _LINES.sub(_one_path, body)


def _plain_style(found: re.Match[str]) -> str:
    names = set(found[1].split())
    bold = ' font-weight="bold"' if names & _BOLD else ""
    return bold + (' font-style="italic"' if names & _ITALIC else "")


def _one_path(found: re.Match[str]) -> str:
    lines = " ".join(_LINE.findall(found[0]))
    return f'<path d="{lines}" stroke-width="{found[1]}" />'
