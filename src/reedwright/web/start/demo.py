"""The invented tune that stands open on the first page of an empty shelf.

It is arranged, drawn and made sound by the same functions as a tune of the shelf, and kept in
memory, as it never changes.

Public: `TEXT`, `demo_arrangement`, `demo_sheet`, `demo_timeline`, `demo_sound`, `demo_page`,
`put_on_shelf`.
"""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path
from threading import Lock

from reedwright.shelf.facts.tunes import add_tune
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind
from reedwright.sound.events import Timeline
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.choices.model import TuneChoices
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune
from reedwright.web.music.arranging import arranged
from reedwright.web.music.drawing import WIDE, Sheet, Width, sheet
from reedwright.web.music.sounding import timeline_of, wav

TEXT = (Path(__file__).parent / "demo.abc").read_text(encoding="utf-8")

_KEPT_SOUNDS = 4  # of some 3 MB each: the usual speed and those that somebody tries

_making = Lock()  # what is being made is not made a second time beside it


def _tune() -> Tune:
    (tune,) = read_abc(TEXT)
    assert isinstance(tune, Tune)
    return tune


@lru_cache(maxsize=1)
def demo_arrangement() -> Arrangement:
    """On the harp that it lies best on of all that are made."""
    tune = _tune()
    return arranged(tune, TuneChoices(tune.title, tune.number), None)


@lru_cache(maxsize=2)
def _drawn(width: Width) -> Sheet:
    return sheet(demo_arrangement(), width)


def demo_sheet(width: Width = WIDE) -> Sheet:
    """Its music with tab, and the chart of its harp."""
    with _making:
        return _drawn(width)


@lru_cache(maxsize=64)
def demo_timeline(speed: float, count_in: bool) -> Timeline:
    return timeline_of(demo_arrangement(), speed, count_in)


@lru_cache(maxsize=_KEPT_SOUNDS)
def _sounded(speed: float, count_in: bool) -> bytes:
    return wav(demo_timeline(speed, count_in))


def demo_sound(speed: float, count_in: bool) -> bytes:
    """As a WAV file."""
    with _making:
        return _sounded(speed, count_in)


@lru_cache(maxsize=1)
def _printed() -> bytes:
    from reedwright.page.lesson import lesson_pdf

    return lesson_pdf(demo_arrangement())


def demo_page() -> bytes:
    """The lesson page as PDF."""
    with _making:
        return _printed()


def put_on_shelf(shelf: Shelf) -> Item:
    """The tune as one of the shelf's own: the one put there before where it is unchanged."""
    with shelf.change():
        for item in shelf.items(Kind.TUNE):
            if item.state.text == TEXT:
                return item
        return add_tune(shelf, _tune(), said="opened from the first page")
