"""What makes one tab dearer than another, in plain words: parts of effort with how often.

Public: `difference_words`.
"""

from __future__ import annotations

from collections.abc import Mapping

from reedwright.tab.costs import Item
from reedwright.tab.effort import (
    SCALE,
)
from reedwright.tab.words import counted, number_word

SECONDS_PER_MINUTE = 60.0


_NAMES: Mapping[str, tuple[str, str]] = {
    "draw_bend_1": ("draw bend of a semitone", "draw bends of a semitone"),
    "draw_bend_2": ("draw bend of a whole tone", "draw bends of a whole tone"),
    "draw_bend_3": ("draw bend of three semitones", "draw bends of three semitones"),
    "blow_bend_1": ("blow bend of a semitone", "blow bends of a semitone"),
    "blow_bend_2": ("deeper blow bend", "deeper blow bends"),
    "valved_bend": ("bend of a valved reed", "bends of a valved reed"),
    "overblow": ("overblow", "overblows"),
    "overdraw": ("overdraw", "overdraws"),
    "low_draw": ("draw note in hole 1 or 2", "draw notes in holes 1 and 2"),
    "high_hole": ("note above hole 7", "notes above hole 7"),
    "breath_change": ("breath change", "breath changes"),
    "neighbour": ("move to the next hole", "moves to the next hole"),
    "step": (
        "step to the next hole in the other breath",
        "steps to the next hole in the other breath",
    ),
    "leap": ("leap", "leaps"),
    "repeated_note": ("note repeated in its hole", "notes repeated in their hole"),
    "slide_move": ("push or release of the slide", "pushes or releases of the slide"),
    "slur_skip": ("leap under a slur", "leaps under a slur"),
    "slur_breath": ("breath change under a slur", "breath changes under a slur"),
    "bend_from_afar": ("bend come to from another hole", "bends come to from another hole"),
    "bend_shift": ("shift between bends of a hole", "shifts between bends of a hole"),
    "release": ("release of a bend", "releases of a bend"),
    "grace": ("grace note", "grace notes"),
    "grace_other": ("grace note with another pitch", "grace notes with another pitch"),
    "grace_lost": ("ornament that cannot be played", "ornaments that cannot be played"),
    "missing_note": ("missing note", "missing notes"),
}
_TOLD_WITH = {"leap_hole": "leap"}
"""Weights of one and the same thing are told together."""


def difference_words(this: Mapping[str, Item], that: Mapping[str, Item]) -> tuple[str, ...]:
    """What `that` has more or less of than `this`, the weightiest first.

    `two more breath changes (+2.6)`, `one leap fewer (-0.7)`, `leaps cost more (+0.4)`.
    """
    nothing = Item(0, 0)
    told: dict[str, Item] = {}
    for name in {**this, **that}:
        one, two = this.get(name, nothing), that.get(name, nothing)
        head = _TOLD_WITH.get(name, name)
        units, times = told.get(head, nothing)
        more = two.times - one.times if head == name else 0
        told[head] = Item(units + two.units - one.units, times + more)
    found: list[tuple[int, str]] = []
    for name, (units, times) in told.items():
        if not units:
            continue
        single, many = _NAMES.get(name) or (name.replace("_", " "), name.replace("_", " "))
        if times > 0:
            words = f"{number_word(times)} more {single if times == 1 else many}"
        elif times < 0:
            words = f"{counted(-times, single, many, number_word)} fewer"
        else:
            words = f"{many} cost {'more' if units > 0 else 'less'}"
        found.append((units, f"{words} ({units / SCALE:+.1f})"))
    found.sort(key=lambda each: -abs(each[0]))
    return tuple(words for _, words in found)
