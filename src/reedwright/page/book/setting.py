"""How a tune is set: its music as large, and with as many words, as its place allows.

`alone` and `shared` make what a template is given of a tune's sheets; docs/book-pages.md tells the
rules. Lengths are mm.

Public: `Piece`, `Words`, `words_of`, `alone`, `shared`, `SLACK`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from reedwright.page.book.flow import sheets_of
from reedwright.page.book.format import Format
from reedwright.page.book.model import BookLook
from reedwright.page.book.slim import slim
from reedwright.page.content import LessonContent
from reedwright.page.engraving import Engraver, System
from reedwright.page.fitting import Setting, fitted, flowing

SLACK = 1.5  # mm, that the estimate does not know
GAPS = 2.5  # times that the space between sections is added to a page
BETWEEN = 9.0  # mm at least between two tunes of one page
FULL, SMALL, NO_STORY = "full", "small", ""  # how a story stands under its music
SHORT_STORY = 400  # letters of a story that may be set in small print
FEW_NOTES, MOST_NOTES = 2, 5  # on playing, where the music needs the room
ROOMY_STAFF = 6.4  # mm: smaller ones only where fewer words do not help


class Words(NamedTuple):
    """What stands under the music: the harp chart or not, so many notes on playing, the tune's
    story (full, in small print, or none)."""

    chart: bool
    notes: int
    story: str


@dataclass(frozen=True, slots=True)
class Piece:
    """A tune to be set. `head`: the height of its head; `below`: what may stand under the music,
    the most generous first, with its height; `bars`: the tab of each bar in words."""

    engraver: Engraver
    form: Format
    head: float
    below: Sequence[tuple[Words, float]]
    bars: Sequence[str]

    @property
    def told(self) -> bool:
        """Whether it has a story."""
        return any(way.story for way, _ in self.below)


def words_of(content: LessonContent, form: Format, look: BookLook) -> list[Words]:
    """What may stand under the music, the most generous first.

    A short story is set small before it is left out; a long one goes to a page of its own.
    """
    count = len(content.remarks)
    length = sum(len(told.text) for told in content.background) if look.full_notes else 0
    stories = [FULL, SMALL if length <= SHORT_STORY else NO_STORY] if length else [NO_STORY]
    counts = list(dict.fromkeys((count, *(few for few in (MOST_NOTES, FEW_NOTES) if few < count))))
    ways = []
    for story in stories:
        if look.full_notes and form.chart:
            ways += [Words(True, number, story) for number in counts]
        ways += [Words(False, number, story) for number in (*counts, 0)]
    return list(dict.fromkeys(ways))


def alone(piece: Piece) -> dict[str, Any]:
    """On a page of its own, with as many words as leave the music room; else on several."""
    found = next(_one_page(piece), None)
    if found:
        way, setting = found
        sheets = [_sheet(piece, setting.systems, setting.gaps)]
        gap = setting.section_gap
    else:
        way, sheets = _several(piece)
        gap = 0.0
    return _set(sheets, way, gap)


def _set(sheets: list[list[dict[str, object]]], way: Words, gap: float) -> dict[str, Any]:
    return {
        "sheets": sheets,
        "words_sheet": len(sheets) - 1,
        "below": way._asdict(),
        "story_pages": [],
        "section_gap": round(gap, 3),
    }


def _one_page(piece: Piece) -> Iterator[tuple[Words, Setting]]:
    """Ways to one page: with the chart before without, a large staff before many words."""
    form = piece.form
    roomy = tuple(staff for staff in form.staves if staff >= ROOMY_STAFF) or form.staves[:1]
    for story in dict.fromkeys(way.story for way, _ in piece.below):
        for chart in (True, False):
            last = not chart and story != FULL
            for staves in (roomy, form.staves, form.small if last else ()):
                for way, height in piece.below:
                    if (way.chart, way.story) != (chart, story) or not staves:
                        continue
                    room = form.text_height - piece.head - height - SLACK
                    for setting in fitted(piece.engraver, room, staves):
                        yield way, setting


def _several(piece: Piece) -> tuple[Words, list[list[dict[str, object]]]]:
    """On two pages or more: of as few as there can be, the way with the most words."""
    first = piece.form.text_height - piece.head - SLACK
    room = piece.form.text_height - SLACK
    least = min(height for _, height in piece.below)
    setting = flowing(piece.engraver, first, room, least, piece.form.staves)
    tries = [
        (way, sheets_of(setting.systems, setting.staff, first, room, height))
        for way, height in piece.below
        if height <= max(room, least)
    ]
    fewest = min(len(sheets) for _, sheets in tries)
    way, sheets = next(found for found in tries if len(found[1]) == fewest)
    made: list[list[dict[str, object]]] = []
    done = 0
    for sheet in sheets:
        made.append(_sheet(piece, sheet.systems, sheet.gaps, done, len(setting.systems)))
        done += len(sheet.systems)
    return way, made


def shared(piece: Piece) -> dict[str, Any] | None:
    """For half a page, without the harp chart; None where it needs more. `height` is told, too."""
    half = (piece.form.text_height - BETWEEN) / 2
    for way, height in piece.below:
        if way.chart or (piece.told and not way.story):
            continue
        room = half - piece.head - height - SLACK
        for setting in fitted(piece.engraver, room, piece.form.shared):
            used = sum(system.height for system in setting.systems) + sum(setting.gaps)
            total = piece.head + used + GAPS * setting.section_gap + height + SLACK
            sheets = [_sheet(piece, setting.systems, setting.gaps)]
            made = _set(sheets, way, setting.section_gap)
            return made | {"height": round(min(total, half), 2)}
    return None


def _sheet(
    piece: Piece,
    systems: Sequence[System],
    gaps: Sequence[float],
    before: int = 0,
    lines: int | None = None,
) -> list[dict[str, object]]:
    """The systems of a page; `before`: how many of the tune's `lines` stand before it."""
    return [
        {
            "svg": slim(system.svg),
            "width": system.width,
            "height": system.height,
            "overhang": system.overhang,
            "gap": round(gap, 3),
            "alt": _alt(piece, system, before + number, lines or len(systems)),
        }
        for number, (system, gap) in enumerate(zip(systems, gaps, strict=True), 1)
    ]


def _alt(piece: Piece, system: System, line: int, lines: int) -> str:
    """The line in words, so that its tab can be heard."""
    tab = "; ".join(piece.bars[index] for index in system.bars if piece.bars[index])
    which = f", line {line} of {lines}" if lines > 1 else ""
    title = piece.engraver.tune.title
    begin = f"Sheet music of {title}{which}" if line == 1 else f"The music goes on{which}"
    return f"{begin}, with tab: {tab}." if tab else f"{begin}, without notes."
