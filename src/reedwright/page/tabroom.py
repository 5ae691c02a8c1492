"""Room for tab: what Verovio is told, so that notes stand as far apart as their tab needs.

Verovio 6.4 sets a verse's text from a little left of its note, leaves room to the right
of it alone, and does not look at verses inside a group of grace notes (measured). We
centre each text on its note's head, and let those of grace notes stand one after
another in front of their note's. So each stand-in text is made as long as the way to the
next text must be.

Widths are in em of the tab's type unless said otherwise.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from math import ceil
from typing import NamedTuple

from reedwright.page.tabfont import printed, text_width
from reedwright.tune.model import Bar
from reedwright.tune.rows import TabRow

STANDIN = "l"  # as high as a figure, and narrow
STANDIN_WIDTH = 569 / 2048  # em, of Verovio's Times
# Measured in Verovio 6.4, in tenths of its page units at its own staff size: from one grace
# note to the next, and how far a text begins left of its note, at least and at most.
GRACE_STEP = 242.0
LEAST_LEFT, MOST_LEFT = 90.0, 233.0
LEFT_FROM_MIDDLE = 52.0
GRACE_GAP = 0.16  # em between the texts of grace notes, and before their note's


class Written(NamedTuple):
    """A note or a grace note, in the order in which they stand."""

    id: str
    grace: bool


def written_order(bars: Sequence[Bar]) -> Iterator[Written]:
    for bar in bars:
        for note in bar.notes:
            for grace in note.graces:
                yield Written(grace.id, True)
            yield Written(note.id, False)


def standins(
    rows: Sequence[TabRow], bars: Sequence[Bar], scale: Mapping[str, float], em: float
) -> tuple[TabRow, ...]:
    """For each row the stand-in texts to engrave with.

    `scale`: each id's type size as a share of the tab's. `em`: tenths of a page unit.
    """
    order = list(written_order(bars))
    return tuple(TabRow(row.name, _row(row.texts, order, scale, em)) for row in rows)


def _row(
    texts: Mapping[str, str], order: Sequence[Written], scale: Mapping[str, float], em: float
) -> dict[str, str]:
    result = {}
    places = [place for place, one in enumerate(order) if texts.get(one.id)]
    mains = [place for place in places if not order[place].grace]
    widths = {p: _width(texts[order[p].id], scale[order[p].id]) for p in places}
    for place in places:
        result[order[place].id] = STANDIN
    for place, following in pairwise(mains):
        between = range(place + 1, following)
        way = (widths[place] + widths[following]) / 2
        way += sum(widths[p] + GRACE_GAP for p in between if p in widths)
        way -= sum(order[p].grace for p in between) * GRACE_STEP / em
        result[order[place].id] = STANDIN * _letters(way, em)
    if mains:
        result[order[mains[-1]].id] = STANDIN * _letters(widths[mains[-1]], em)
    return result


def _width(text: str, scale: float) -> float:
    return text_width(printed(text)) * scale


def _letters(way: float, em: float) -> int:
    """How many stand-in letters keep a way of this width free."""
    left = min(max(way * em / 2 - LEFT_FROM_MIDDLE, LEAST_LEFT), MOST_LEFT)
    return max(1, ceil((way + (left - LEAST_LEFT) / em) / STANDIN_WIDTH))
