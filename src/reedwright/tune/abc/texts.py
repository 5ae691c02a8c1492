"""Quoted text in music: chord symbols and annotations (ABC 2.1, sections 4.18 and 4.19)."""

from __future__ import annotations

import re
from functools import lru_cache

from reedwright.tune.abc.mnemonics import decode_text
from reedwright.tune.model import Annotation

SIDES = {"^": "above", "_": "below", "<": "left", ">": "right", "@": "auto"}
SIDE_SIGNS = {side: sign for sign, side in SIDES.items()}

_CHORD = re.compile(
    r"\(?(?:[A-Ga-g](?:#|b|♯|♭|=)?(?:maj|min|mi|ma|m|M|dim|aug|sus|add|alt|no|[-+°ø^0-9#b♭♯.,()])*"
    r"(?:/[A-Ga-g](?:#|b|♯|♭)?)?|/[A-G][#b]?|N\.?C\.?)\)?(?:[;,\s/]*\([A-G][^)]*\))?$"
)
_OFFSETS = re.compile(r"@-?[\d.]+,-?[\d.]+\s*")


@lru_cache(maxsize=1024)
def read_quoted(text: str) -> tuple[str, Annotation | None]:
    """A chord symbol, or an annotation. Words that are no chord are an annotation above."""
    if not text.strip():
        return "", None
    side = SIDES.get(text[0])
    if side is not None:
        offset = _OFFSETS.match(text)
        body = text[offset.end() :] if offset else text[1:]
        return "", Annotation(side, decode_text(body)) if body else None
    text = decode_text(text.strip())
    if _CHORD.match(text):
        return text, None
    return "", Annotation("above", text)
