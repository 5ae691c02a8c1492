"""The `K:` field: tonic, mode, explicit accidentals, clef, octave and transposition.

ABC 2.1, sections 3.1.14 and 4.6.
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

from reedwright.fifths import STEPS, mode_fifths, signature
from reedwright.tune.model import Key

MODE_STARTS = {
    "maj": "major",
    "ion": "major",
    "min": "minor",
    "aeo": "minor",
    "dor": "dorian",
    "phr": "phrygian",
    "lyd": "lydian",
    "mix": "mixolydian",
    "loc": "locrian",
}
ALTERS = {"^": 1, "^^": 2, "_": -1, "__": -2, "=": 0}
CLEFS = ("treble", "bass", "alto", "tenor", "perc", "none", "soprano", "mezzosoprano", "baritone")
HIGHLAND = Key("A", 0, "highland", (1, 0, 0, 1, 0, 0, 0))  # F and C sharp, G natural

_TONIC = re.compile(r"([A-Ga-g])\s?(#|b(?!ass)|♯|♭|sharp\b|flat\b|is\b)?\s*")
_ACCIDENTAL = re.compile(r"(\^\^|\^|__|_|=)\s?([A-Ga-g])")
_PARAMETER = re.compile(
    r"""(?i)(?<![\w-])(clef|cl|octave|transpose|t|middle|m|stafflines|staffscale|name|nm|subname|snm
    |sname|stem|stems|gstem|dyn|gchord|voicecombine|score|sound|shift|instrument|space|tuning|strings
    |style|program|merge|cue|map|lyrics)\s*=\s*("[^"]*"|'[^']*'|[^\s"]+)""",
    re.VERBOSE,
)
_CLEF = re.compile(
    r"(?i)\b(treble|bass|alto|tenor|perc|none|soprano|mezzosoprano|baritone)\d?([+-]8)?(?!\w)"
)
_SHIFT = re.compile(r"([+-])8$")


class KeyField(NamedTuple):
    """What a `K:` field says. `key` is None where it speaks of the clef alone.

    `octave`: octaves by which written notes are moved; `transpose`: semitones by
    which they sound away from what is written.
    """

    key: Key | None
    clef: str | None = None
    octave: int = 0
    transpose: int = 0


class ClefField(NamedTuple):
    """Clef, octave and transposition of a `K:` or `V:` field, and what is left of its text."""

    clef: str | None
    octave: int
    transpose: int
    rest: str
    parameters: tuple[tuple[str, str], ...] = ()


@lru_cache(maxsize=256)
def _alterations(key: Key) -> dict[str, int]:
    return dict(zip(STEPS, key.accidentals, strict=True))


def alterations(key: Key) -> dict[str, int]:
    """What the signature does to each step, as a dict of the caller's own."""
    return _alterations(key).copy()


def read_clef(text: str) -> ClefField:
    """Take clef, `octave=`, `transpose=` and other `name=value` parameters out of a text."""
    clef: str | None = None
    octave = transpose = 0
    parameters: list[tuple[str, str]] = []

    def take(found: re.Match[str]) -> str:
        nonlocal clef, octave, transpose
        name, value = found[1].lower(), found[2].strip("\"'")
        parameters.append((name, value))
        if name == "clef" or name == "cl":
            clef = value.lower()
        elif name == "octave":
            octave += _integer(value)
        elif name in ("transpose", "t"):
            transpose += _integer(value)
        return " "

    rest = _PARAMETER.sub(take, text) if "=" in text else text
    if clef is None:
        bare = _CLEF.search(rest)
        if bare is not None:
            clef = bare[0].lower()
            rest = rest[: bare.start()] + rest[bare.end() :]
    return ClefField(clef, octave, transpose, rest, tuple(parameters))


def clef_octaves(clef: str) -> int:
    """Octaves by which a clef with an 8 moves what is written: `treble-8` one down."""
    shift = _SHIFT.search(clef)
    if shift is None:
        return 0
    return 1 if shift[1] == "+" else -1


def _integer(text: str) -> int:
    try:
        number = int(text)
    except ValueError:
        return 0
    return number if abs(number) < 100 else 0


@lru_cache(maxsize=1024)
def read_key(text: str) -> KeyField | None:
    """Read the text of a `K:` field; None where it can't be understood."""
    text = text.strip()
    lower = text.lower()
    if not text or lower == "none":
        return KeyField(Key(mode="none"))
    if lower.startswith("none"):
        clef = read_clef(text[4:])
        none = _with_accidentals(_in_clef(Key(mode="none"), clef.clef), clef.rest)
        return KeyField(none, clef.clef, clef.octave, clef.transpose)
    clef = read_clef(text)
    rest = clef.rest.strip()
    if not rest:
        return KeyField(None, clef.clef, clef.octave, clef.transpose)
    key = _key_proper(rest)
    if key is None:
        return None
    return KeyField(_in_clef(key, clef.clef), clef.clef, clef.octave, clef.transpose)


def _in_clef(key: Key, clef: str | None) -> Key:
    if clef is None:
        return key
    return Key(key.step, key.alter, key.mode, key.accidentals, key.estimated, clef)


def _key_proper(text: str) -> Key | None:
    if text[:2] in ("HP", "Hp"):
        return HIGHLAND
    tonic = _TONIC.match(text)
    if tonic is None:
        if _ACCIDENTAL.match(text) or text.lower().startswith("exp"):
            return _with_accidentals(Key(mode="none"), text)
        return None
    step = tonic[1].upper()
    sign = tonic[2] or ""
    alter = {"#": 1, "♯": 1, "sharp": 1, "is": 1, "b": -1, "♭": -1, "flat": -1}.get(sign, 0)
    rest = text[tonic.end() :]
    word = re.match(r"[A-Za-z]*", rest)
    assert word is not None
    mode = _mode(word[0])
    if mode is None:
        return None
    if word[0].lower() != "exp":
        rest = rest[word.end() :]
    accidentals = signature(mode_fifths(step, alter, mode))
    return _with_accidentals(Key(step, alter, mode, accidentals), rest)


def _mode(word: str) -> str | None:
    lower = word.lower()
    if lower in ("", "exp"):
        return "major"
    if lower == "m":
        return "minor"
    return MODE_STARTS.get(lower[:3])


def _with_accidentals(key: Key, text: str) -> Key:
    """Apply explicit accidentals; with `exp` they stand alone."""
    alters = list(key.accidentals)
    if re.match(r"\s*exp", text, re.IGNORECASE):
        alters = [0] * 7
    for found in _ACCIDENTAL.finditer(text):
        alters[STEPS.index(found[2].upper())] = ALTERS[found[1]]
    c, d, e, f, g, a, b = alters
    return Key(key.step, key.alter, key.mode, (c, d, e, f, g, a, b), False, key.clef)
