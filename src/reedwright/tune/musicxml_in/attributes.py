"""Key, metre, clef and transposition from MusicXML's `attributes`, and tempo marks."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from xml.etree.ElementTree import Element

from reedwright.fifths import MODE_FIFTHS, STEPS, signature, spelled_at
from reedwright.tune.model import Key, Meter, Tempo

_MODES = {"ionian": "major", "aeolian": "minor"}
_CLEFS = {
    ("G", "2"): "treble",
    ("F", "4"): "bass",
    ("F", "3"): "baritone",
    ("C", "1"): "soprano",
    ("C", "2"): "mezzosoprano",
    ("C", "3"): "alto",
    ("C", "4"): "tenor",
}
BEAT_UNITS = {
    "breve": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4),
    "32nd": Fraction(1, 8),
    "64th": Fraction(1, 16),
    "128th": Fraction(1, 32),
}
_MAX_FIFTHS = 11
_MAX_BEATS = 128


def text_of(element: Element, path: str, default: str = "") -> str:
    """The text at a path below an element, without space around it."""
    found = element.find(path)
    return default if found is None else (found.text or "").strip()


def number(text: str | None, default: Fraction | None = None) -> Fraction | None:
    """A decimal number, or the default where it is none."""
    try:
        value = Fraction((text or "").strip())
    except (ValueError, ZeroDivisionError):
        return default
    return value if abs(value) < 10**6 and value.denominator < 10**6 else default


def read_key(element: Element, before: Key) -> Key:
    """A `key` element. A mode that is not one of ours counts as none stated: major.

    The signature without a mode is read as the major key and marked as estimated.
    """
    if element.find("key-step") is not None:
        return _explicit_key(element, before)
    fifths = int(number(text_of(element, "fifths"), Fraction(0)) or 0)
    fifths = max(-_MAX_FIFTHS, min(_MAX_FIFTHS, fifths))
    mode = text_of(element, "mode").lower()
    mode = _MODES.get(mode, mode)
    if mode == "none":
        return Key("C", 0, "none", signature(fifths), clef=before.clef)
    estimated = mode not in MODE_FIFTHS
    if estimated:
        mode = "major"
    step, alter = spelled_at(fifths - MODE_FIFTHS[mode])
    return Key(step, alter, mode, signature(fifths), estimated, before.clef)


def _explicit_key(element: Element, before: Key) -> Key:
    """Signatures that no key has, written step by step; they have no tonic."""
    accidentals = [0] * 7
    step = ""
    for child in element:
        value = (child.text or "").strip()
        if child.tag == "key-step":
            step = value
        elif child.tag == "key-alter" and step in STEPS and step:
            alter = round(number(value, Fraction(0)) or 0)
            accidentals[STEPS.index(step)] = max(-2, min(2, alter))
    c, d, e, f, g, a, b = accidentals
    return Key("C", 0, "none", (c, d, e, f, g, a, b), clef=before.clef)


def read_meter(element: Element, before: Meter) -> Meter:
    """A `time` element; `before` where it makes no sense."""
    if element.find("senza-misura") is not None:
        return Meter(beats=())
    beats: list[int] = []
    units: list[int] = []
    for child in element:
        try:
            if child.tag == "beats":
                beats += [int(part) for part in (child.text or "").split("+")]
            elif child.tag == "beat-type":
                units.append(int(child.text or ""))
        except ValueError:
            return before
    sane = beats and units and all(0 < b <= _MAX_BEATS for b in beats)
    if not sane or len(set(units)) > 1 or units[0] not in (1, 2, 4, 8, 16, 32, 64):
        return before
    symbol = {"common": "C", "cut": "C|"}.get(element.get("symbol", ""))
    return Meter(tuple(beats), units[0], symbol)


def read_clef(element: Element, before: Key) -> Key:
    """A `clef` element, kept with the key as ABC keeps it."""
    sign = text_of(element, "sign")
    if sign == "percussion":
        return replace(before, clef="perc")
    name = _CLEFS.get((sign, text_of(element, "line") or {"G": "2", "F": "4"}.get(sign, "3")))
    if name is None:
        return before
    octaves = {"1": "+8", "-1": "-8"}.get(text_of(element, "clef-octave-change"), "")
    return replace(before, clef=name + octaves)


def read_transposition(element: Element) -> int:
    """Semitones from what is written to what sounds, of a `transpose` element."""
    chromatic = int(number(text_of(element, "chromatic"), Fraction(0)) or 0)
    octaves = int(number(text_of(element, "octave-change"), Fraction(0)) or 0)
    semitones = chromatic + 12 * octaves
    return semitones if abs(semitones) <= 36 else 0


def read_metronome(element: Element, words: str = "") -> Tempo | None:
    """A `metronome` mark of one beat and a number; None for other kinds."""
    beat = BEAT_UNITS.get(text_of(element, "beat-unit"))
    # "c. 96" and the like: the number in it.
    digits = "".join(c if c.isdigit() or c == "." else " " for c in text_of(element, "per-minute"))
    bpm = number(digits.split()[0]) if digits.split() else None
    if beat is None or not bpm or bpm <= 0:
        return None
    dots = len(element.findall("beat-unit-dot"))
    return Tempo(beat * (2 - Fraction(1, 2**dots)), bpm, words)
