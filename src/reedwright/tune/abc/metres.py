"""The `M:`, `L:` and `Q:` fields: metre, unit note length, tempo (ABC 2.1, 3.1.6 to 3.1.8)."""

from __future__ import annotations

import re
from fractions import Fraction
from functools import lru_cache

from reedwright.tune.model import Meter, Tempo

COMMON = Meter((4,), 4, "C")
CUT = Meter((2,), 2, "C|")
FREE = Meter((), 4)
LARGEST_BEATS = 128  # a metre of more beats is a slip of the pen
LARGEST_BPM = 2000
_TOO_LONG = re.compile(r"\d{10}")  # a number that no field means, and that takes long to read

_METRE = re.compile(r"\(?\s*(\d+(?:\s*\+\s*\d+)*)\s*\)?\s*/\s*(\d+)")
_SUM_OF_METRES = re.compile(r"(\d+)\s*/\s*(\d+)\s*\+\s*(\d+)\s*/\s*\2")
_UNIT = re.compile(r"(\d+)(?:\s*/\s*(\d+))?\s*$")
_WORDS = re.compile(r'"([^"]*)"?')
_BEATS = re.compile(r"((?:\d+\s*/\s*\d+[\s+]*)+)=\s*[^\d]{0,8}(\d+(?:\.\d+)?)")
_OLD_UNITS = re.compile(r"[A-Ga-g](\d*)\s*=\s*(\d+(?:\.\d+)?)")
_FRACTION = re.compile(r"(\d+)\s*/\s*(\d+)")
_BARE = re.compile(r"\s*=?\s*(\d+(?:\.\d+)?)")


@lru_cache(maxsize=512)
def read_meter(text: str) -> Meter | None:
    """The metre that a field's text says; None where it can't be understood."""
    text = text.strip()
    lower = text.lower()
    if _TOO_LONG.search(text):
        return None
    if not text or lower.startswith("none") or lower == "free":
        return FREE
    if text.startswith("C|") or lower == "c|":
        return CUT
    if text[:1] in "Cc" and not text[1:2].isalnum():
        return COMMON
    added = _SUM_OF_METRES.match(text)
    if added:
        return _checked((int(added[1]), int(added[3])), int(added[2]))
    found = _METRE.match(text)
    if found:
        return _checked(tuple(int(n) for n in found[1].split("+")), int(found[2]))
    if text.isdecimal() and 0 < int(text) <= 16:
        return Meter((int(text),), 4)
    return None


def _checked(beats: tuple[int, ...], unit: int) -> Meter | None:
    if unit not in (1, 2, 4, 8, 16, 32, 64, 128) or not 0 < sum(beats) <= LARGEST_BEATS:
        return None
    return Meter(beats, unit) if 0 not in beats else None


def default_unit(meter: Meter | None) -> Fraction:
    """Unit note length in quarter notes where no `L:` says it.

    ABC 2.1, section 3.1.7: a sixteenth where the metre as a decimal is below 0.75, else an eighth.
    """
    if meter is None or meter.free:
        return Fraction(1, 2)
    return (
        Fraction(1, 4)
        if Fraction(sum(meter.beats), meter.unit) < Fraction(3, 4)
        else Fraction(1, 2)
    )


@lru_cache(maxsize=512)
def read_unit(text: str) -> Fraction | None:
    """Unit note length in quarter notes; None where it can't be understood."""
    found = _UNIT.match(text.strip())
    if not found or _TOO_LONG.search(text):
        return None
    top, bottom = int(found[1]), int(found[2] or 1)
    if not 0 < bottom <= 512 or not 0 < top <= 64:
        return None
    return Fraction(4 * top, bottom)


@lru_cache(maxsize=512)
def read_tempo(text: str, unit: Fraction) -> Tempo | None:
    """The tempo that a `Q:` field says; None where nothing can be understood.

    `unit` is the unit note length in quarter notes, which the old forms `Q:120` and
    `Q:C3=80` count in.
    """
    words = " ".join(w.strip() for w in _WORDS.findall(text) if w.strip())
    if _TOO_LONG.search(text):
        return None
    rest = _WORDS.sub(" ", text).strip()
    found = _BEATS.search(rest)
    if found:
        parts = [(int(a), int(b)) for a, b in _FRACTION.findall(found[1])]
        if any(a == 0 or b == 0 for a, b in parts):
            return None
        beat = sum((Fraction(4 * a, b) for a, b in parts), Fraction(0))
        return _tempo(beat, found[2], words)
    old = _OLD_UNITS.search(rest)
    if old:
        return _tempo(unit * int(old[1] or 1), old[2], words)
    bare = _BARE.match(rest)
    if bare:
        return _tempo(unit, bare[1], words)
    words = words or rest
    return Tempo(Fraction(1), None, words) if words else None


def _tempo(beat: Fraction, bpm: str, words: str) -> Tempo | None:
    rate = Fraction(bpm)
    if beat <= 0 or not 0 < rate <= LARGEST_BPM:
        return None
    return Tempo(beat, rate, words)
