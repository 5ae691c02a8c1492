"""Music engraved with Verovio: each system an SVG drawing of its own, tab under the notes.

The tab is set in our own font: Verovio engraves stand-in texts that keep room for it
(`tabroom`), and the tab is set over the finished system (`systemsvg`). Lengths are
millimetres on paper, type sizes points.

Public: `Engraver`, `Look`, `Plan`, `System`, `engrave`, `NotEngraved`.
"""

from __future__ import annotations

import re
import threading
from collections.abc import Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any, NamedTuple

from reedwright.errors import ReedwrightError
from reedwright.page.breaking import BarWidth, Breaking, breakings
from reedwright.page.knownsystems import Drawn, system_keys
from reedwright.page.systemsvg import OVERHANG, TabText, finished_system
from reedwright.page.tabfont import printed
from reedwright.page.tabroom import standins
from reedwright.page.tempowords import tempo_words
from reedwright.tune.model import Bar, BarLine, Change, Tempo, Tune
from reedwright.tune.musicxml import write_musicxml
from reedwright.tune.rows import TabRow

POINT = 25.4 / 72  # millimetres
UNIT = 9.0  # Verovio's half staff space, in its page units
METER_WIDTH = 5 * UNIT  # a time signature with its space, about
STAFF_UNITS = 8 * UNIT  # height of a staff
MUSIC_FONT = "Leland"  # open music font that Verovio ships
SEED = 1  # of the ids that Verovio makes up
SMALLEST_TAB, SMALLEST_GRACE = 9.0, 7.0  # points: readable at arm's length
GRACE_SHARE = 0.78  # of the tab's size, for grace notes
# Music of a single system is not stretched to the margin where it is shorter than this share.
SINGLE_STRETCH = 0.6


class NotEngraved(ReedwrightError):
    """The music could not be engraved."""


class Look(NamedTuple):
    """Sizes of engraved music: the height of a staff in mm, the type size of the tab in points."""

    staff: float = 6.2
    tab: float = 9.9

    @property
    def grace(self) -> float:
        return max(SMALLEST_GRACE, self.tab * GRACE_SHARE)

    @property
    def millimetre(self) -> float:
        """Verovio's page units in a millimetre."""
        return STAFF_UNITS / self.staff


class Plan(NamedTuple):
    """One way to break the music at one look."""

    look: Look
    breaking: Breaking

    @property
    def starts(self) -> tuple[int, ...]:
        """Indices of the bars that begin a system, the first one apart."""
        return self.breaking.starts

    @property
    def systems(self) -> int:
        return len(self.starts) + 1


@dataclass(frozen=True, slots=True)
class System:
    """One engraved system: an SVG document and its size in mm.

    The drawing begins `overhang` mm left of the staff, so that bar numbers may hang out;
    `width` counts that in. `bars` are indices.
    """

    svg: str
    width: float
    height: float
    bars: tuple[int, ...]
    overhang: float = OVERHANG


def engrave(
    tune: Tune,
    rows: Sequence[TabRow] = (),
    voice: int = 0,
    width: float = 178.0,
    look: Look | None = None,
) -> tuple[System, ...]:
    """Engrave one voice of a tune with its tab, `width` mm wide. Raises NotEngraved."""
    engraver = Engraver(tune, rows, voice, width)
    return engraver.engrave(engraver.plan(look or Look()))


class Measured(NamedTuple):
    """The music in one line, at one ratio of tab to staff; lengths in Verovio's page units.

    `lead`: clef and signature. `height`: of the line, in heights of a staff, which no
    system exceeds. `source`: the MusicXML, without breaks.
    """

    bars: tuple[BarWidth, ...]
    lead: float
    height: float
    source: str


@dataclass(slots=True)
class Engraver:
    """One voice of a tune, to be engraved at whatever size suits.

    `speed`: how much faster than the tune's own tempo marks later ones are printed.
    Raises NotEngraved where the tune has no bars or Verovio cannot read it.
    """

    tune: Tune
    rows: Sequence[TabRow]
    voice: int
    width: float
    speed: Fraction = Fraction(1)
    _measured: dict[float, Measured] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self._bars:
            raise NotEngraved(
                f"{self.tune.title}: there is no music to engrave. Choose another tune."
            )

    @property
    def _bars(self) -> tuple[Bar, ...]:
        return self.tune.voices[self.voice].bars if self.tune.voices else ()

    def plan(self, look: Look) -> Plan:
        """The plan whose bars are most even."""
        return min(self.plans(look), key=lambda plan: plan.breaking.cost)

    def plans(self, look: Look, most: int | None = None) -> tuple[Plan, ...]:
        """The best ways to break, from few systems to `most`, by the bars' natural widths.

        These follow the ratio of tab to staff alone, so they are measured once for each ratio.
        """
        line = self.measured(look)
        ways = breakings(line.bars, self.width * look.millimetre, line.lead, most)
        return tuple(Plan(look, way) for way in ways)

    def measured(self, look: Look) -> Measured:
        """What the looks of one ratio share."""
        ratio = round(look.tab / look.staff, 2)
        if ratio not in self._measured:
            self._measured[ratio] = self._measure(look)
        return self._measured[ratio]

    def engrave(
        self, plan: Plan, known: MutableMapping[str, Drawn] | None = None
    ) -> tuple[System, ...]:
        """The systems of a plan. `known`: systems drawn before, by what they were drawn from; those
        that are in it are not drawn again, and new ones are put in."""
        look = plan.look
        sizes = _sizes(self.rows, _grace_ids(self._bars), look)
        source = _with_breaks(self.measured(look).source, plan.starts)
        texts = {
            id_: tuple(
                TabText(number, printed(row.texts[id_]), size)
                for number, row in enumerate(self.rows)
                if row.texts.get(id_)
            )
            for id_, size in sizes.items()
        }
        labels = [row.name for row in self.rows] if len(self.rows) > 1 else []
        edges = [0, *plan.starts, len(self._bars)]
        drawn: dict[int, Drawn] = {}
        keys: list[str] = []
        if known is not None:
            keys = system_keys(source, edges, texts, repr((look, self.width, labels)))
            drawn = {k: known[key] for k, key in enumerate(keys) if key in known}
        wanted = [k for k in range(len(edges) - 1) if k not in drawn]
        if wanted:
            pages = _render(source, look, self.width, "encoded", self.tune.title, wanted)
            for k, page in zip(wanted, pages, strict=True):
                drawn[k] = finished_system(page, texts, look.millimetre, labels)
                if known is not None:
                    known[keys[k]] = drawn[k]
        return tuple(
            System(*drawn[k], tuple(range(first, last)))
            for k, (first, last) in enumerate(pairwise(edges))
        )

    def _musicxml(self, look: Look) -> str:
        sizes = _sizes(self.rows, _grace_ids(self._bars), look)
        scale = {id_: size / look.tab for id_, size in sizes.items()}
        em = 10 * look.tab * POINT * look.millimetre
        proxies = standins(self.rows, self._bars, scale, em)
        tune = _with_tempo_words(self.tune, self.voice, self.speed)
        return write_musicxml(tune, proxies, voices=(self.voice,))

    def _measure(self, look: Look) -> Measured:
        bars = self._bars
        source = self._musicxml(look)
        pages = _render(source, look, self.width, "none", self.tune.title)
        lines = [(int(a) / 10, int(b) / 10) for a, b in _STAFF_LINE.findall(pages[0])]
        if len(lines) != len(bars):
            raise NotEngraved(
                f"{self.tune.title}: {len(bars)} bars became {len(lines)} when engraved. "
                "Report the tune as a fault of Reedwright."
            )
        lead = _lead(bars)
        widths = []
        in_ending = False
        for index, (bar, (left, right)) in enumerate(zip(bars, lines, strict=True)):
            following = bars[index + 1] if index + 1 < len(bars) else None
            width = right - left - (lead if index == 0 else 0)
            in_ending = (in_ending or bool(bar.ending)) and not bar.ending_last
            widths.append(
                BarWidth(
                    width,
                    _ends_part(bar, following),
                    counted=_counted(bars, index),
                    bound=following is not None and _halves(bar, following),
                    sticky=in_ending or (following is not None and _later_ending(following)),
                    meter=METER_WIDTH if index == 0 and not bar.meter.free else 0.0,
                )
            )
        box = _VIEW_BOX.search(pages[0])
        assert box is not None  # as `svgViewBox` asks for
        return Measured(tuple(widths), lead, float(box[1]) / STAFF_UNITS, source)


_VIEW_BOX = re.compile(r'viewBox="0 0 [\d.]+ ([\d.]+)"')


def _with_tempo_words(tune: Tune, voice: int, speed: Fraction) -> Tune:
    """Without the first tempo, which the page's head tells, and later ones in words.

    Verovio's note of a metronome mark is a letter of a music font, which the page has not.
    """
    bars = []
    for bar in tune.voices[voice].bars:
        events = tuple(
            replace(event, tempo=Tempo(text=tempo_words(event.tempo, speed=speed)))
            if isinstance(event, Change) and event.tempo
            else event
            for event in bar.events
        )
        bars.append(replace(bar, events=events) if events != bar.events else bar)
    voices = list(tune.voices)
    voices[voice] = replace(voices[voice], bars=tuple(bars))
    return replace(tune, tempo=None, voices=tuple(voices))


def _with_breaks(source: str, starts: Sequence[int]) -> str:
    """MusicXML whose measures at these indices each begin a page (first in a measure)."""
    head, *measures = source.split("<measure ")
    for index in starts:
        tag, rest = measures[index].split(">", 1)
        measures[index] = f'{tag}><print new-page="yes"/>{rest}'
    return "<measure ".join((head, *measures))


_LOCK = threading.Lock()  # Verovio keeps fonts in global data


@cache
def _toolkit() -> Any:
    import verovio

    verovio.enableLog(verovio.LOG_OFF)
    # Each thread has a default of its own, and importing sets that of one thread alone.
    verovio.setDefaultResourcePath(str(Path(verovio.__file__).parent / "data"))
    return verovio.toolkit()


def _render(
    source: str,
    look: Look,
    width: float,
    breaks: str,
    title: str,
    wanted: Sequence[int] | None = None,
) -> list[str]:
    """The pages of a MusicXML text, or those that are wanted (from 0); one system is one page."""
    with _LOCK:
        toolkit = _toolkit()
        toolkit.resetXmlIdSeed(SEED)
        toolkit.setOptions(_options(look, width, breaks, 'new-page="yes"' not in source))
        if not toolkit.loadData(source):
            raise NotEngraved(
                f"{title}: the music could not be engraved. Look for odd lengths with "
                "`reedwright read`, or report the tune as a fault of Reedwright."
            )
        numbers = range(toolkit.getPageCount()) if wanted is None else wanted
        return [toolkit.renderToSVG(number + 1) for number in numbers]


def _options(look: Look, width: float, breaks: str, single: bool) -> Mapping[str, object]:
    """Verovio's options; lengths without a name here are in its half staff spaces."""
    em = look.tab * POINT * look.millimetre
    return {
        "breaks": breaks,
        "header": "none",
        "footer": "none",
        "pageWidth": round(width * look.millimetre),
        "pageHeight": 100,  # the least there is; the drawing's own height is taken
        "adjustPageHeight": True,
        "pageMarginLeft": 0,
        "pageMarginRight": 0,
        "pageMarginTop": 0,
        "pageMarginBottom": 0,
        "unit": UNIT,
        "font": MUSIC_FONT,
        "lyricSize": em / UNIT,
        "lyricTopMinMargin": 2.0,
        "lyricWordSpace": 1.3,
        "minLastJustification": SINGLE_STRETCH if single else 0.0,
        "noJustification": breaks == "none",
        "spacingLinear": 0.25,
        "spacingNonLinear": 0.6,
        "svgViewBox": True,
        "svgRemoveXlink": True,
        "smuflTextFont": "none",
        "svgFormatRaw": True,  # no line breaks, which would be spaces inside words
    }


# The first staff line of each measure, and where it runs from and to (tenths of a unit).
_STAFF_LINE = re.compile(
    r'class="measure".*?class="staff".*?<path d="M(-?\d+) -?\d+ L(-?\d+) ', re.DOTALL
)


def _grace_ids(bars: Sequence[Bar]) -> set[str]:
    return {grace.id for bar in bars for note in bar.notes for grace in note.graces}


def _sizes(rows: Sequence[TabRow], graces: set[str], look: Look) -> dict[str, float]:
    """The type size of each tab text, in points, by the id of its note."""
    ids = {id_ for row in rows for id_ in row.texts}
    return {id_: look.grace if id_ in graces else look.tab for id_ in ids}


def _lead(bars: Sequence[Bar]) -> float:
    """About the width of clef and signature, in Verovio's page units."""
    signs = sum(map(abs, bars[0].key.accidentals))
    return UNIT * (8 + 2.2 * signs)


def _ends_part(bar: Bar, following: Bar | None) -> bool:
    """Whether a part ends here. First endings go on with the second: it belongs beside them."""
    if following is not None and _later_ending(following):
        return False
    return (
        bool(bar.repeat_close)
        or bar.closing in (BarLine.DOUBLE, BarLine.FINAL)
        or (following is not None and (following.repeat_open or bool(following.part)))
    )


def _counted(bars: Sequence[Bar], index: int) -> bool:
    """Whether it counts for phrases: no anacrusis, second half or later ending."""
    bar = bars[index]
    second_half = index > 0 and bars[index - 1].number == bar.number
    return bar.number != 0 and not second_half and not _later_ending(bar)


def _later_ending(bar: Bar) -> bool:
    return bool(bar.ending) and min(bar.ending) > 1


def _halves(bar: Bar, following: Bar) -> bool:
    """Two halves of one cut bar, with no part's end between them."""
    return bar.number == following.number and not _ends_part(bar, following)
