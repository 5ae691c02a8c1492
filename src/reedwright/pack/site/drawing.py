"""Engraved music made ready for a web page: one SVG inside the page, in the page's own fonts.

Public: `inlined`.
"""

from __future__ import annotations

import re
from html import escape

_STYLE = re.compile(r"<style\b.*?</style>", re.DOTALL)
_IDS = re.compile(r'(\bid="|href="#)([^"]+)"')
_SIZE = re.compile(r'\s(?:width|height)="[\d.]+mm"')
_HEAD = re.compile(r"<\?xml[^>]*\?>\s*")
_DESC = re.compile(r"<(?:desc|title)\b.*?</(?:desc|title)>", re.DOTALL)


def inlined(svg: str, prefix: str, words: str, hidden: bool = False) -> str:
    """The drawing as an element of a page.

    `prefix` keeps its ids apart from those of others on the page. `words`: the same in words;
    `hidden`: those who hear the page need not be told, as another drawing says it. Its own styles
    are left to the page's, which a strict policy asks for.
    """
    found = _DESC.sub("", _STYLE.sub("", _HEAD.sub("", svg)))
    found = _IDS.sub(lambda match: f'{match[1]}{prefix}{match[2]}"', found)
    start, rest = found.split(">", 1)
    start = _SIZE.sub("", start)
    told = (
        ' aria-hidden="true"' if hidden else f' role="img" aria-label="{escape(words, quote=True)}"'
    )
    return f"{start}{told}>{rest}"
