"""One `note` element: pitch, length, ties, tuplet, decorations and lyrics."""

from __future__ import annotations

from fractions import Fraction
from xml.etree.ElementTree import Element

from reedwright.fifths import STEPS
from reedwright.tune.model import Lyric, Pitch
from reedwright.tune.musicxml import signs
from reedwright.tune.musicxml_in.attributes import BEAT_UNITS, number, text_of

GRACE_LENGTH = Fraction(1, 2)
"""Quarter notes of a grace note that does not say its type: a quaver."""


def _reversed(*tables: dict[str, str]) -> dict[str, str]:
    """MusicXML's element to the standard's long name of a decoration."""
    found: dict[str, str] = {}
    for table in tables:
        for name, element in table.items():
            found.setdefault(element, name)
    return found


_DECORATIONS = {
    **_reversed(signs.ARTICULATIONS, signs.ORNAMENTS, signs.TECHNICAL),
    "turn": "turn",  # and not a roll, which is printed with the same sign
    "caesura": "shortphrase",
    "detached-legato": "tenuto",
}


def read_pitch(element: Element) -> Pitch | None:
    """A `pitch` element. None where it makes no sense. Quarter tones go to the nearest semitone."""
    step = text_of(element, "step").upper()
    octave = number(text_of(element, "octave"))
    alter = number(text_of(element, "alter", "0"), Fraction(0)) or Fraction(0)
    if len(step) != 1 or step not in STEPS or octave is None or not -1 <= octave <= 9:
        return None
    pitch = Pitch(step, max(-2, min(2, round(alter))), int(octave))
    return pitch if 0 <= pitch.midi <= 127 else None


def microtonal(element: Element) -> bool:
    """Whether the pitch lies between semitones."""
    return (number(text_of(element, "alter", "0"), Fraction(0)) or Fraction(0)).denominator != 1


def type_length(note: Element) -> Fraction | None:
    """Quarter notes of the written note type with its dots, the tuplet not applied."""
    length = BEAT_UNITS.get(text_of(note, "type"))
    if length is None:
        return None
    return length * (2 - Fraction(1, 2 ** min(4, len(note.findall("dot")))))


def tuplet_ratio(note: Element) -> tuple[int, int] | None:
    """(actual, normal) notes of a tuplet."""
    actual = text_of(note, "time-modification/actual-notes")
    normal = text_of(note, "time-modification/normal-notes")
    if not (actual.isdecimal() and normal.isdecimal()):
        return None
    ratio = int(actual), int(normal)
    return ratio if all(0 < n < 1000 for n in ratio) and ratio[0] != ratio[1] else None


def starts_tie(note: Element) -> bool:
    ties = note.findall("tie") or note.findall("notations/tied")
    return any(tie.get("type") == "start" for tie in ties)


def slurs(note: Element) -> tuple[int, int]:
    """How many slurs open and close here."""
    kinds = [slur.get("type") for slur in note.findall("notations/slur")]
    return kinds.count("start"), kinds.count("stop")


def decorations(note: Element) -> tuple[str, ...]:
    """The note's signs under the ABC standard's long names; unknown ones are left out."""
    found: list[str] = []
    for notations in note.findall("notations"):
        for child in notations:
            if child.tag in ("articulations", "ornaments", "technical"):
                found += [_decoration(sign) for sign in child]
            elif child.tag == "fermata":
                found.append("invertedfermata" if child.get("type") == "inverted" else "fermata")
            elif child.tag == "arpeggiate":
                found.append("arpeggio")
            elif child.tag == "dynamics":
                found += [sign.tag for sign in child if sign.tag in signs.DYNAMICS]
    return tuple(dict.fromkeys(name for name in found if name))


def _decoration(sign: Element) -> str:
    if sign.tag == "fingering":
        finger = (sign.text or "").strip()
        return finger if finger in signs.FINGERS else ""
    return _DECORATIONS.get(sign.tag, "")


def lyrics(note: Element) -> tuple[Lyric | None, ...]:
    """The syllables under a note, verse by verse; None for a verse that has none here."""
    verses: dict[int, Lyric] = {}
    for place, lyric in enumerate(note.findall("lyric"), start=1):
        numbered = lyric.get("number", "")
        verse = int(numbered) if numbered.isdecimal() and 0 < int(numbered) < 20 else place
        text = "".join((part.text or "") for part in lyric if part.tag in ("text", "elision"))
        syllabic = [(part.text or "").strip() for part in lyric.findall("syllabic")]
        hyphen = bool(syllabic) and syllabic[-1] in ("begin", "middle")
        extends = lyric.find("extend") is not None
        if text or extends:
            verses[verse] = Lyric(text, hyphen, extends)
    return tuple(verses.get(verse) for verse in range(1, max(verses, default=0) + 1))


def chord_symbol(harmony: Element) -> str:
    """A `harmony` element as people write it: `F#m7/A`. Empty where it has no root."""
    root = text_of(harmony, "root/root-step")
    if not root:
        return "N.C." if text_of(harmony, "kind") == "none" else ""
    kind = harmony.find("kind")
    words = "" if kind is None else (kind.text or "").strip()
    text = kind.get("text") if kind is not None else None
    if text is None:
        text = next((name for name, value in signs.KINDS.items() if value == words), "")
    symbol = root + _sign(text_of(harmony, "root/root-alter")) + text
    bass = text_of(harmony, "bass/bass-step")
    return symbol + (f"/{bass}{_sign(text_of(harmony, 'bass/bass-alter'))}" if bass else "")


def _sign(alter: str) -> str:
    return {"1": "#", "-1": "b", "2": "##", "-2": "bb"}.get(alter, "")
