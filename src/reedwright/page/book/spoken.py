"""The tab of each bar in words, for those who hear a page read.

Public: `bars_in_words`.
"""

from __future__ import annotations

from itertools import groupby

from reedwright.harp.model import Sounding, Technique
from reedwright.page.content import signs_in_print
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.written import WrittenNote, written_notes

MISSING = "not on this harp"


def bars_in_words(arrangement: Arrangement) -> tuple[str, ...]:
    """`bar 3: 5 blow, 4 draw bent 1, 6 draw`, by the bars' indices; empty for a bar without tab.

    Graces are left out, and of tied notes all but the first, as in the tab.
    """
    bars = arrangement.tune.voices[arrangement.voice].bars if arrangement.tune.voices else ()
    words = [""] * len(bars)
    places = {id(bar): index for index, bar in enumerate(bars)}
    for place, notes in groupby(written_notes(arrangement), key=lambda note: places[id(note.bar)]):
        told = ", ".join(_word(note) for note in notes if not note.continues)
        if told:
            number = bars[place].number
            words[place] = f"bar {number}: {told}" if number else f"upbeat: {told}"
    return tuple(words)


def _word(note: WrittenNote) -> str:
    if note.sounding is None:
        return f"{signs_in_print(note.note.pitch.name)} {MISSING}"
    return _sounding(note.sounding)


def _sounding(sounding: Sounding) -> str:
    parts = [str(sounding.hole), sounding.breath.value]
    if sounding.bend:
        parts.append(f"bent {sounding.bend}")
    elif sounding.technique in (Technique.OVERBLOW, Technique.OVERDRAW):
        parts[1:] = [sounding.technique.value]
    if sounding.slide:
        parts.append("slide in")
    return " ".join(parts)
