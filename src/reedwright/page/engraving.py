"""Music engraved with Verovio: each system an SVG drawing of its own, tab under the notes.

The tab is set in our own font. Verovio spaces verses by metrics of a Times font, so each
tab text is given to it as a row of full stops of the same width, and drawn anew over
the finished system. Lengths are millimetres on paper, type sizes points.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from math import ceil
from typing import Any

from reedwright.errors import ReedwrightError
from reedwright.page.breaking import BarWidth, break_systems
from reedwright.page.systemsvg import TabText, finished_system
from reedwright.page.tabfont import printed, text_width
from reedwright.tune.model import Bar, BarLine, Tune
from reedwright.tune.musicxml import write_musicxml
from reedwright.tune.rows import TabRow

POINT = 25.4 / 72  # millimetres
UNIT = 9.0  # Verovio's half staff space, in its page units
STAFF_UNITS = 8 * UNIT  # height of a staff
MUSIC_FONT = "Leland"  # open music font that Verovio ships, cut after engraved song books
STOP_WIDTH = 0.25  # em of Verovio's Times: the full stop
SEED = 1  # of the ids that Verovio makes up
SMALLEST_TAB, SMALLEST_GRACE = 9.0, 7.0  # points: readable at arm's length
GRACE_SHARE = 0.78  # of the tab's size, for grace notes
# A system shorter than this share of the line is not stretched to its end.
LAST_STRETCH = 0.6


class NotEngraved(ReedwrightError):
    """The music could not be engraved."""


@dataclass(frozen=True, slots=True)
class Look:
    """Sizes of engraved music. `width` and `staff` (five lines' height) in mm, `tab` in points."""

    width: float = 178.0
    staff: float = 6.2
    tab: float = 9.6

    @property
    def grace(self) -> float:
        return max(SMALLEST_GRACE, self.tab * GRACE_SHARE)

    @property
    def millimetre(self) -> float:
        """Verovio's page units in a millimetre."""
        return STAFF_UNITS / self.staff


@dataclass(frozen=True, slots=True)
class System:
    """One engraved system: an SVG document and its size in mm. `bars` are indices."""

    svg: str
    width: float
    height: float
    bars: tuple[int, ...]


def engrave(
    tune: Tune, rows: Sequence[TabRow] = (), voice: int = 0, look: Look | None = None
) -> tuple[System, ...]:
    """Engrave one voice of a tune with its tab.

    Raises
    ------
    NotEngraved
        Where the tune has no bars or Verovio cannot read it.
    """
    look = look or Look()
    bars = tune.voices[voice].bars
    if not bars:
        raise NotEngraved(f"{tune.title}: there is no music to engrave. Choose another tune.")
    sizes = _sizes(rows, _grace_ids(bars), look)
    proxies = tuple(
        TabRow(row.name, {id_: "." * _stops(text, sizes[id_], look) for id_, text in row.texts.items()})
        for row in rows
    )
    with _LOCK:
        toolkit = _toolkit()
        starts = _breaks(toolkit, tune, proxies, voice, look)
        source = write_musicxml(
            tune, proxies, voices=(voice,), tempo_shown=False, page_starts=starts
        )
        pages = _render(toolkit, source, look, "encoded", tune.title)
    texts: dict[str, list[TabText]] = {}
    for row in rows:
        for id_, text in row.texts.items():
            half = _stops(text, sizes[id_], look) * STOP_WIDTH / 2
            texts.setdefault(id_, []).append(TabText(printed(text), sizes[id_], half))
    edges = [0, *starts, len(bars)]
    return tuple(
        System(*finished_system(page, texts, look.millimetre), tuple(range(first, last)))
        for page, first, last in zip(pages, edges, edges[1:], strict=False)
    )


_LOCK = threading.Lock()  # Verovio keeps fonts in global data


@cache
def _toolkit() -> Any:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


def _grace_ids(bars: Sequence[Bar]) -> set[str]:
    return {grace.id for bar in bars for note in bar.notes for grace in note.graces}


def _sizes(rows: Sequence[TabRow], graces: set[str], look: Look) -> dict[str, float]:
    """The type size of each tab text, in points, by the id of its note."""
    ids = {id_ for row in rows for id_ in row.texts}
    return {id_: look.grace if id_ in graces else look.tab for id_ in ids}


def _stops(text: str, size: float, look: Look) -> int:
    """How many full stops of the verse's size are as wide as this text in the tab font."""
    return max(1, ceil(text_width(printed(text)) * size / look.tab / STOP_WIDTH))


def _render(toolkit: Any, source: str, look: Look, breaks: str, title: str) -> list[str]:
    """The pages of a MusicXML text; one system is one page."""
    toolkit.resetXmlIdSeed(SEED)
    toolkit.setOptions(_options(look, breaks))
    if not toolkit.loadData(source):
        raise NotEngraved(
            f"{title}: the music could not be engraved. Look for odd lengths with "
            "`reedwright read`, or report the tune as a fault of Reedwright."
        )
    return [toolkit.renderToSVG(page) for page in range(1, toolkit.getPageCount() + 1)]


def _options(look: Look, breaks: str) -> Mapping[str, object]:
    """Verovio's options; lengths without a name here are in its half staff spaces."""
    em = look.tab * POINT * look.millimetre
    return {
        "breaks": breaks,
        "header": "none",
        "footer": "none",
        "pageWidth": round(look.width * look.millimetre),
        "pageHeight": 100,  # the least there is: so each page holds one system
        "adjustPageHeight": True,
        "pageMarginLeft": 0,
        "pageMarginRight": 0,
        "pageMarginTop": 0,
        "pageMarginBottom": 0,
        "unit": UNIT,
        "font": MUSIC_FONT,
        "lyricSize": em / UNIT,
        "lyricTopMinMargin": 2.0,
        "lyricWordSpace": 0.9,
        "minLastJustification": LAST_STRETCH,
        "noJustification": breaks == "none",
        "spacingLinear": 0.25,
        "spacingNonLinear": 0.6,
        "svgViewBox": True,
        "svgRemoveXlink": True,
        "smuflTextFont": "none",
        "outputIndent": 1,
    }


# The first staff line of each measure, and where it runs from and to (tenths of a unit).
_STAFF_LINE = re.compile(
    r'class="measure".*?class="staff".*?<path d="M(-?\d+) -?\d+ L(-?\d+) ', re.DOTALL
)


def _breaks(
    toolkit: Any, tune: Tune, rows: Sequence[TabRow], voice: int, look: Look
) -> tuple[int, ...]:
    """Choose system breaks from the bars' natural widths."""
    bars = tune.voices[voice].bars
    source = write_musicxml(tune, rows, voices=(voice,), tempo_shown=False)
    (page, *_) = _render(toolkit, source, look, "none", tune.title)
    lines = [(int(a) / 10, int(b) / 10) for a, b in _STAFF_LINE.findall(page)]
    if len(lines) != len(bars):
        raise NotEngraved(f"{tune.title}: {len(bars)} bars became {len(lines)} when engraved.")
    lead = _lead(bars)
    widths = []
    for index, (bar, (left, right)) in enumerate(zip(bars, lines, strict=True)):
        following = bars[index + 1] if index + 1 < len(bars) else None
        widths.append(
            BarWidth(
                right - left - (lead if index == 0 else 0),
                bool(bar.repeat_close)
                or bar.closing in (BarLine.DOUBLE, BarLine.FINAL)
                or (following is not None and following.repeat_open),
                counted=_counted(bars, index),
                bound=following is not None and _halves(bar, following),
            )
        )
    return break_systems(widths, look.width * look.millimetre, lead)


def _lead(bars: Sequence[Bar]) -> float:
    """About the width of clef and signature, in Verovio's page units."""
    signs = sum(map(abs, bars[0].key.accidentals))
    return UNIT * (8 + 2.2 * signs)


def _counted(bars: Sequence[Bar], index: int) -> bool:
    bar = bars[index]
    return bar.number != 0 and not (index and bars[index - 1].number == bar.number)


def _halves(bar: Bar, following: Bar) -> bool:
    """Two halves of one cut bar, with no part's end between them."""
    return bar.number == following.number and not bar.repeat_close
