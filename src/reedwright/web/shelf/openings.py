"""How tunes begin, drawn for lists of them: the first bars without tab, kept once drawn.

Public: `opening_of`, `Beginning`.
"""

from __future__ import annotations

import re
from threading import Lock
from typing import NamedTuple

from reedwright.harp.making import parse_harp
from reedwright.pack.site.drawing import inlined
from reedwright.page.engraving import Look, NotEngraved
from reedwright.page.opening import opening
from reedwright.player.loading import load_profile
from reedwright.shelf.facts.reading import tune_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.model import Tune
from reedwright.web.remembering import Remembered

WIDTH = 96.0  # mm: two bars of a reel with their upbeat at this size
LOOK = Look(5.2, 8.7)
BARS = 2
SCALE = 1.15  # on a screen, which is read from farther away than paper
KEPT = 2_000  # drawings of some 15 kB


_PLACEHOLDER = re.compile(r'class="[^"]*\bplaceholder\b')  # what the engraver keeps room with


class Beginning(NamedTuple):
    """`svg`: a document of its own."""

    svg: str


_KEPT: Remembered[Beginning] = Remembered(KEPT)
_drawing = Lock()  # a list asks for fifty at once; drawn one by one they leave a core to others


def opening_of(shelf: Shelf, number: int) -> Beginning:
    """Raises `NotOnShelf`, `ShelfError` for a tune that can't be read, `NotEngraved`."""
    item = shelf.item(number, Kind.TUNE)

    def draw() -> Beginning:
        with _drawing:
            return Beginning(_drawn(shelf, item))

    return _KEPT.get((item.uid, item.state.number), draw)


def _drawn(shelf: Shelf, item: Item) -> str:
    tune = tune_of(shelf, item)
    if not any(bar.notes for bar in tune.bars):
        raise NotEngraved(f"{tune.title}: there is no music to engrave.")
    drawn = opening(_without_tab(tune), BARS, WIDTH, LOOK, with_tab=False)
    svg = inlined(drawn.svg, "", "", hidden=True)
    svg = _PLACEHOLDER.sub(r'visibility="hidden" \g<0>', svg)
    # A picture of its own has its own size, and no styles of a page to give lines their colour.
    width, height = SCALE * drawn.width, SCALE * drawn.height
    size = f'width="{width:.2f}mm" height="{height:.2f}mm"'
    return svg.replace("<svg", f'<svg {size} stroke="#000"', 1)


def _without_tab(tune: Tune) -> Arrangement:
    """A tune that no harp is chosen for."""
    return Arrangement(tune, parse_harp("C"), load_profile("player"), {}, (), 0.0, {})
