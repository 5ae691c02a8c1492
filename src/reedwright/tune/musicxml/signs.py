"""Decorations, chord symbols and signs of navigation in MusicXML's terms."""

from __future__ import annotations

import re
from typing import NamedTuple

# ABC 2.1 decoration names (section 4.14) to MusicXML elements, by the group they stand in.
# The Irish roll has no element of its own; a turn is what it is commonly printed as.
ARTICULATIONS = {
    "staccato": "staccato",
    "tenuto": "tenuto",
    "accent": "accent",
    ">": "accent",
    "emphasis": "accent",
    "wedge": "staccatissimo",
    "marcato": "strong-accent",
    "^": "strong-accent",
    "breath": "breath-mark",
    "shortphrase": "caesura",
    "mediumphrase": "caesura",
    "longphrase": "caesura",
    "slide": "scoop",
}
ORNAMENTS = {
    "roll": "turn",
    "trill": "trill-mark",
    "mordent": "mordent",
    "lowermordent": "mordent",
    "uppermordent": "inverted-mordent",
    "pralltriller": "inverted-mordent",
    "turn": "turn",
    "invertedturn": "inverted-turn",
}
TECHNICAL = {
    "upbow": "up-bow",
    "downbow": "down-bow",
    "open": "open-string",
    "thumb": "thumb-position",
    "snap": "snap-pizzicato",
    "plus": "stopped",
    "+": "stopped",
}
FERMATAS = {"fermata": "upright", "invertedfermata": "inverted"}
DYNAMICS = frozenset({"pppp", "ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "ffff", "sfz"})
WEDGES = {
    "crescendo(": "crescendo",
    "<(": "crescendo",
    "crescendo)": "stop",
    "<)": "stop",
    "diminuendo(": "diminuendo",
    ">(": "diminuendo",
    "diminuendo)": "stop",
    ">)": "stop",
}
FINGERS = frozenset("012345")

# Chord kinds as they are commonly written, to MusicXML's kind values.
KINDS = {
    "": "major",
    "maj": "major",
    "M": "major",
    "m": "minor",
    "min": "minor",
    "-": "minor",
    "7": "dominant",
    "maj7": "major-seventh",
    "M7": "major-seventh",
    "m7": "minor-seventh",
    "min7": "minor-seventh",
    "mmaj7": "major-minor",
    "dim": "diminished",
    "o": "diminished",
    "dim7": "diminished-seventh",
    "o7": "diminished-seventh",
    "m7b5": "half-diminished",
    "aug": "augmented",
    "+": "augmented",
    "aug7": "augmented-seventh",
    "+7": "augmented-seventh",
    "7#5": "augmented-seventh",
    "6": "major-sixth",
    "m6": "minor-sixth",
    "9": "dominant-ninth",
    "maj9": "major-ninth",
    "m9": "minor-ninth",
    "11": "dominant-11th",
    "m11": "minor-11th",
    "13": "dominant-13th",
    "m13": "minor-13th",
    "sus": "suspended-fourth",
    "sus4": "suspended-fourth",
    "sus2": "suspended-second",
    "5": "power",
}
_CHORD = re.compile(r"([A-G])(##?|bb?|♯|♭)?([^/]*)(?:/([A-Ga-g])(##?|bb?|♯|♭)?)?\Z")
_ALTERS = {"": 0, "#": 1, "##": 2, "b": -1, "bb": -2, "♯": 1, "♭": -1}


class Chord(NamedTuple):
    """A chord symbol taken apart. `text` is the kind as written, `bass` the slash note."""

    root: str
    alter: int
    kind: str
    text: str
    bass: str | None = None
    bass_alter: int = 0


def parse_chord(symbol: str) -> Chord | None:
    """`F#m7/A` taken apart, or None where it is not a chord that we know."""
    found = _CHORD.fullmatch(symbol.strip())
    if not found:
        return None
    root, sign, text, bass, bass_sign = found.groups()
    kind = KINDS.get(text.strip())
    if kind is None:
        return None
    return Chord(
        root,
        _ALTERS[sign or ""],
        kind,
        text.strip(),
        bass.upper() if bass else None,
        _ALTERS[bass_sign or ""],
    )
