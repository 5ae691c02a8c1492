"""What a tune's source says about rights: who may copy, play and sell it."""

from __future__ import annotations

import re

from reedwright.tune.model import Tune

_ABC_COPYRIGHT = re.compile(r"(?i)^abc-copyright:?\s+(.*\S)")
_DIRECTIVE = re.compile(r"(?im)^(?:%%|I:)\s*abc-copyright:?\s+(.*\S)")
_SAID_IN_WORDS = re.compile(r"(?i)^(?:rights:\s*(.*\S)|((?:©|\(c\)|copyright\b).*\S))")
_CODES_OF_WORDS = ("Z", "N", "S")


def rights_line(tune: Tune) -> str | None:
    """The rights line, or None where the source states none.

    In this order: `Z:abc-copyright ...` (ABC standard 2.1, section 3.1.10; the rights of a
    MusicXML file are kept so too), `%%abc-copyright ...`, and a line of `Z:`, `N:` or
    `S:` that begins with "Rights:", "Copyright" or the copyright sign. Several
    lines of the same kind are joined.
    """
    stated = [m[1] for text in tune.field_texts("Z") if (m := _ABC_COPYRIGHT.match(text.strip()))]
    stated = stated or [
        m[1] for text in tune.field_texts("I") if (m := _ABC_COPYRIGHT.match(text.strip()))
    ]
    stated = stated or _DIRECTIVE.findall(tune.text)
    stated = stated or [
        m[1] or m[2]
        for code in _CODES_OF_WORDS
        for text in tune.field_texts(code)
        if (m := _SAID_IN_WORDS.match(text.strip()))
    ]
    return "; ".join(dict.fromkeys(stated)) or None
