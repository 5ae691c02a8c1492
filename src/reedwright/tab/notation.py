"""How a note of a harp is written down: three styles of tab.

Marks that all styles share (common practice, no source): a prime for each semitone
that the reed is bent, a small circle for an overblow or overdraw, `<` for the
slide pushed in. Breath is told by an arrow, a sign, or the row that the hole stands in.

Public: `TabStyle`, `tab_sign`, `tab_rows`, `MISSING`.
"""

from __future__ import annotations

from enum import StrEnum

from reedwright.harp.model import Breath, Sounding
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.written import written_notes
from reedwright.tune.rows import TabRow

BEND_MARK = "'"
OVER_MARK = "°"
SLIDE_MARK = "<"
MISSING = "×"  # a note that no hole sounds; never left out

_ARROWS = {Breath.BLOW: "↑", Breath.DRAW: "↓"}
_SIGNS = {Breath.BLOW: "+", Breath.DRAW: "-"}


class TabStyle(StrEnum):
    """Arrows after the hole, signs before it, or a blow row above a draw row."""

    ARROWS = "arrows"
    SIGNS = "signs"
    ROWS = "rows"


def tab_sign(sounding: Sounding, style: TabStyle | str = TabStyle.ARROWS) -> str:
    """One note: `3↓''`, `-3''` or `3''` for hole 3 draw, bent a whole tone."""
    hole = str(sounding.hole)
    marks = BEND_MARK * sounding.bend
    if sounding.technique.overbend:
        marks += OVER_MARK
    if sounding.slide:
        marks += SLIDE_MARK
    match TabStyle(style):
        case TabStyle.ARROWS:
            return hole + _ARROWS[sounding.breath] + marks
        case TabStyle.SIGNS:
            return _SIGNS[sounding.breath] + hole + marks
        case TabStyle.ROWS:
            return hole + marks


def tab_rows(
    arrangement: Arrangement, style: TabStyle | str = TabStyle.ARROWS
) -> tuple[TabRow, ...]:
    """The tab under every note and grace note, by id.

    One row named `tab`, or the two rows `blow` and `draw`. Of tied notes only the first
    has a text. A note that the harp lacks has `×` (in the upper row).
    """
    chosen = TabStyle(style)
    upper: dict[str, str] = {}
    lower: dict[str, str] = {} if chosen is TabStyle.ROWS else upper
    for written in written_notes(arrangement):
        ids = [grace.id for grace in written.note.graces]
        if not written.continues:
            ids.append(written.note.id)
        for id_ in ids:
            sounding = arrangement.soundings.get(id_)
            if sounding is None:
                upper[id_] = MISSING
            else:
                row = upper if sounding.breath is Breath.BLOW else lower
                row[id_] = tab_sign(sounding, chosen)
    if chosen is TabStyle.ROWS:
        return (TabRow("blow", upper), TabRow("draw", lower))
    return (TabRow("tab", upper),)
