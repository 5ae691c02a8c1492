"""Decorations: one-letter signs, `!long!` names, user symbols, signs of navigation.

ABC 2.1, sections 4.14 and 4.16.
"""

from __future__ import annotations

import re

# Section 4.14, the short signs. `J` is common practice in tunebooks (a slide).
SHORT_DECORATIONS = {
    ".": "staccato",
    "~": "roll",
    "H": "fermata",
    "L": "accent",
    "M": "lowermordent",
    "O": "coda",
    "P": "uppermordent",
    "S": "segno",
    "T": "trill",
    "u": "upbow",
    "v": "downbow",
}
SYNONYMS = {
    ">": "accent",
    "emphasis": "accent",
    "mordent": "lowermordent",
    "pralltriller": "uppermordent",
    "+": "plus",
    "<(": "crescendo(",
    "<)": "crescendo)",
    ">(": "diminuendo(",
    ">)": "diminuendo)",
    "D.S": "D.S.",
    "D.C": "D.C.",
    "dc": "D.C.",
    "ds": "D.S.",
}
LONG_DECORATIONS = frozenset(
    [
        "trill",
        "trill(",
        "trill)",
        "lowermordent",
        "uppermordent",
        "roll",
        "turn",
        "turnx",
        "invertedturn",
        "invertedturnx",
        "arpeggio",
        "accent",
        "fermata",
        "invertedfermata",
        "tenuto",
        "0",
        "1",
        "2",
        "3",
        "4",
        "5",
        "plus",
        "snap",
        "slide",
        "wedge",
        "upbow",
        "downbow",
        "open",
        "thumb",
        "breath",
        "pppp",
        "ppp",
        "pp",
        "p",
        "mp",
        "mf",
        "f",
        "ff",
        "fff",
        "ffff",
        "sfz",
        "crescendo(",
        "crescendo)",
        "diminuendo(",
        "diminuendo)",
        "segno",
        "coda",
        "D.S.",
        "D.C.",
        "dacoda",
        "dacapo",
        "fine",
        "shortphrase",
        "mediumphrase",
        "longphrase",
        "staccato",
        "xstem",
        "editorial",
        "courtesy",
        "beamon",
        "beambr1",
        "beambr2",
        "style=normal",
        "style=rhythm",
        "style=x",
        "style=harmonic",
        "marcato",
        "^",
        "/",
        "//",
        "///",
        "trem1",
        "trem2",
        "trem3",
        "trem4",
        "dot",
        "ped",
        "ped-up",
        "8va(",
        "8va)",
        "8vb(",
        "8vb)",
        "sfp",
        "stemless",
        "rbstop",
        "cut",
        "stroke",
        "gmark",
        "umarcato",
        "doublecut",
        "bulgarian",
    ]
)
# What the decoration means for the order of playing (section 4.14).
NAVIGATION = {
    "segno": "segno",
    "coda": "coda",
    "fine": "fine",
    "D.C.": "dacapo",
    "dacapo": "dacapo",
    "D.S.": "dalsegno",
    "dacoda": "tocoda",
}
TARGETS = frozenset({"segno", "coda"})  # marks of a bar's start; the others belong to its end
NAVIGATION_NAMES = {
    "segno": "segno",
    "coda": "coda",
    "fine": "fine",
    "dacapo": "D.C.",
    "dalsegno": "D.S.",
    "tocoda": "dacoda",
}
MARK_ORDER = tuple(NAVIGATION_NAMES)

_USER = re.compile(r"([H-Wh-w~.])\s*=?\s*(?:[!+]([^!+]*)[!+]|(\"[^\"]*\")|(\S+))")


def read_user_symbol(text: str) -> tuple[str, str] | None:
    """`T = !trill!` as the letter and the decoration's name (an annotation keeps its quotes)."""
    found = _USER.match(text.strip())
    if found is None:
        return None
    name = found[2] if found[2] is not None else found[3] or found[4]
    name = name.strip()
    if name in ("nil", "none"):
        name = ""
    return found[1], SYNONYMS.get(name, name)
