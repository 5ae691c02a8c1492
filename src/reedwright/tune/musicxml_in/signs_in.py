"""Bar lines, endings and signs of navigation in MusicXML's `barline`, `direction`, `sound`."""

from __future__ import annotations

import re
from xml.etree.ElementTree import Element

from reedwright.tune.model import BarLine
from reedwright.tune.musicxml_in.drafts import MeasureDraft

_STYLES = {
    "light-light": BarLine.DOUBLE,
    "heavy-heavy": BarLine.FINAL,
    "light-heavy": BarLine.FINAL,
    "heavy-light": BarLine.OPENING,
    "heavy": BarLine.FINAL,
    "dotted": BarLine.DOTTED,
    "dashed": BarLine.DOTTED,
    "none": BarLine.INVISIBLE,
}
_MAX_TIMES = 32
_JUMPS_IN_WORDS = (
    (re.compile(r"(?i)^\s*(?:D\.?\s?C\.?(?=\s|$)|da\s+capo)"), "dacapo"),
    (re.compile(r"(?i)^\s*(?:D\.?\s?S\.?(?=\s|$)|dal\s+segno)"), "dalsegno"),
    (re.compile(r"(?i)^\s*to\s+coda"), "tocoda"),
    (re.compile(r"(?i)^\s*fine\s*\.?\s*$"), "fine"),
)
_SOUNDS = ("segno", "coda", "dacapo", "dalsegno", "tocoda", "fine")


def read_barline(element: Element, measure: MeasureDraft, at_end: bool) -> None:
    """Put what a `barline` says into its measure."""
    right = element.get("location", "right") == "right" or (
        element.get("location") == "middle" and at_end
    )
    style = _STYLES.get((element.findtext("bar-style") or "").strip(), BarLine.SINGLE)
    repeat = element.find("repeat")
    ending = element.find("ending")
    if repeat is not None and repeat.get("direction") == "backward":
        times = repeat.get("times", "")
        measure.repeat_close = min(_MAX_TIMES, int(times)) if times.isdecimal() else 2
        measure.repeat_close = max(2, measure.repeat_close)
        style = BarLine.SINGLE  # thin and thick, as at every repeat end
    elif repeat is not None and repeat.get("direction") == "forward":
        measure.repeat_open = True
        style = BarLine.NONE
    if right:
        measure.closing = style
    elif style is not BarLine.SINGLE:
        measure.opening = style
    if ending is not None:
        if ending.get("type") == "start":
            measure.ending = passes(ending.get("number", ""))
        else:
            measure.ending_last = True
    for mark in ("segno", "coda"):
        if element.find(mark) is not None:
            measure.marks.append(mark)


def passes(text: str) -> tuple[int, ...]:
    """`1, 3` or `1-3` as numbers; the first pass where it makes no sense."""
    found: list[int] = []
    for first, last in re.findall(r"(\d{1,3})(?:\s*-\s*(\d{1,3}))?", text):
        stop = min(int(last or first), int(first) + _MAX_TIMES)
        found += range(int(first), stop + 1)
    return tuple(sorted({number for number in found if 0 < number <= _MAX_TIMES})) or (1,)


def sound_marks(sound: Element | None) -> list[str]:
    """Signs of navigation in the attributes of a `sound`."""
    if sound is None:
        return []
    return [name for name in _SOUNDS if sound.get(name) not in (None, "no")]


def mark_in_words(words: str) -> str | None:
    """`D.C. al Fine` is a dacapo, `To Coda` a tocoda, and so on."""
    return next((mark for pattern, mark in _JUMPS_IN_WORDS if pattern.match(words)), None)
