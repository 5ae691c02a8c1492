"""One tune engraved for its place in a book.

A tune is set for a page (or more) of its own, and, where it is short, once more for half of one:
`printing` takes whichever its place asks for. Lengths are mm.

Public: `tune_entry`.
"""

from __future__ import annotations

import json
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import asdict, replace
from functools import cache
from typing import Any, NamedTuple

from reedwright.harp.position import position
from reedwright.page.book.flow import sheets_of
from reedwright.page.book.format import Format, format_of
from reedwright.page.book.melody import beginning
from reedwright.page.book.model import BookLook, TuneEntry
from reedwright.page.book.qr import qr_svg
from reedwright.page.book.slim import slim
from reedwright.page.content import (
    HEALTH,
    RIGHTS_NOT_STATED,
    LessonContent,
    lesson_content,
)
from reedwright.page.engraving import Engraver, Look, System
from reedwright.page.fitting import Setting, fitted, flowing
from reedwright.page.harpchart import chart_svg, chart_width
from reedwright.page.opening import opening
from reedwright.page.press import HERE, Press
from reedwright.page.settings import PageSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.grade import difficulty
from reedwright.tab.notation import tab_rows
from reedwright.tune.rights import rights_line

MEASURES = HERE / "templates" / "book-measures.typ"
CHART_SCALE = 0.73  # paper to drawing: its smallest type is 7.7 points then
SLACK = 1.5  # mm, that the estimate does not know
GAPS = 2.5  # times that the space between sections is added to a page
BETWEEN = 9.0  # mm at least between two tunes of one page
FULL, SMALL, NO_STORY = "full", "small", ""
SHORT_STORY = 400  # letters of a story that may be set in small print
STORY_PIECE = 1200  # letters, about, of a piece that is not broken over pages
FEW_NOTES, MOST_NOTES = 2, 5  # on playing, where the music needs the room
OPENING_BARS, OPENING_LOOK = 2, Look(4.4, 7.0)
OPENING_WIDTH = 55.0  # mm, of a column of the index of first notes
ROOMY_STAFF = 6.4  # mm: smaller ones only where fewer words do not help


class Words(NamedTuple):
    """What stands under the music: the harp chart or not, so many notes, the tune's story (full,
    in small print, or none)."""

    chart: bool
    notes: int
    story: str


def tune_entry(
    name: str,
    arrangement: Arrangement,
    look: BookLook,
    address: str = "",
    words: str = "",
) -> TuneEntry:
    """The tune as it stands in a book.

    `name`: for links, unlike any other in the book (letters, digits, hyphens). `address`: of its
    sound on the web. `words`: the book maker's own, set under the title.

    Raises
    ------
    NotEngraved, NotTypeset
    """
    form = format_of(look)
    tune, harp = arrangement.tune, arrangement.harp
    paper = "letter" if look.paper == "letter" else "a4"
    content = lesson_content(arrangement, PageSettings(paper=paper, tab_style=look.tab_style))
    notes = tuple(note for note in content.remarks if note != HEALTH)
    content = replace(content, remarks=notes if look.full_notes else ())
    engraver = Engraver(
        tune, tab_rows(arrangement, look.tab_style), arrangement.voice, form.text_width
    )
    page = _head(content, look, address, words)
    page |= _texts(content, look)
    page["look"] = look_data(form, look)
    ways = _ways(content, form, look)
    head, below = _measured(page, ways)
    measured = list(zip(ways, below, strict=True))
    alone = _alone(engraver, form, head, measured, page)
    shared = _shared(engraver, form, head, measured, look)
    melody = beginning(arrangement)
    del page["look"]  # the book has one
    page |= {
        "alone": alone,
        "shared": shared,
        "melody": melody.order,
        "opening": _opening(arrangement, melody.text),
        "signs": [sign._asdict() for sign in content.tab_key],
        "harp_chart": chart_svg(harp, title="", legend=False),
    }
    pages: Any = alone["sheets"]
    height = shared["height"] if shared else form.text_height * len(pages)
    entry = TuneEntry(
        name=name,
        title=content.title,
        also=content.also,
        type=tune.type.strip(),
        key=content.key or "",
        composer=content.composer,
        harp=content.harp,
        position=position(tune.key.tonic_pitch_class, harp) if content.position else 0,
        grade=difficulty(arrangement).grade if arrangement.notes_played else 0.0,
        begins=melody.text,
        rights=rights_line(tune) or "",
        address=address,
        page=page,
        height=height,
    )
    return _printable(entry, _press().unprintable)


def _printable(entry: TuneEntry, unprintable: Collection[str]) -> TuneEntry:
    """Letters that no font has as question marks, so that the whole book need not meet them."""
    if not unprintable:
        return entry
    words = json.dumps(asdict(entry), ensure_ascii=False)
    if not any(letter in words for letter in unprintable):
        return entry
    told = json.loads(words.translate({ord(letter): "?" for letter in unprintable}))
    return TuneEntry(**told | {"also": tuple(told["also"])})


def _opening(arrangement: Arrangement, steps: str) -> dict[str, object]:
    """How the tune begins, engraved for the index of first notes."""
    drawn = opening(arrangement, OPENING_BARS, OPENING_WIDTH, OPENING_LOOK, with_tab=False)
    return {
        "svg": slim(drawn.svg),
        "width": drawn.width,
        "overhang": drawn.overhang,
        "alt": f"How {arrangement.tune.title} begins, in steps of its scale: {steps}.",
    }


def _head(content: LessonContent, look: BookLook, address: str, words: str) -> dict[str, object]:
    link = address if look.links != "none" else ""
    return {
        "title": content.title,
        "also": list(content.also),
        "kind": content.kind,
        "key": content.key or "",
        "composer": content.composer,
        "harp": content.harp,
        "position": content.position or "",
        "facts": [fact._asdict() for fact in content.facts],
        "words": words,
        "link": link,
        "qr": qr_svg(link) if link and look.links == "qr" else "",
    }


def _texts(content: LessonContent, look: BookLook) -> dict[str, object]:
    source = content.source and f"Source: {content.source}."
    rights = content.rights or RIGHTS_NOT_STATED
    return {
        "notes": list(content.remarks),
        "story": [told._asdict() for told in content.background] if look.full_notes else [],
        "rights": " ".join(part for part in (source, rights) if part),
        "chart": {
            "svg": content.chart,
            "width": round(chart_width(content.chart) * CHART_SCALE, 2),
            "alt": content.chart_words,
        },
    }


def _ways(content: LessonContent, form: Format, look: BookLook) -> list[Words]:
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


@cache
def _press() -> Press:
    return Press(MEASURES)


def _measured(page: Mapping[str, object], ways: Sequence[Words]) -> tuple[float, list[float]]:
    """Heights of the tune's head, and of what stands under its music in each of these ways."""
    data = {
        "title": page["title"],
        "look": page["look"],
        "tune": page,
        "ways": [way._asdict() for way in ways],
    }
    (heights,) = _press().told(data, "<heights>")
    return heights["head"], heights["below"]


def look_data(form: Format, look: BookLook) -> dict[str, object]:
    """What templates are told of the look."""
    return {
        "width": form.width,
        "height": form.height,
        "inside": form.inside,
        "outside": form.outside,
        "top": form.top,
        "bottom": form.bottom,
        "text_width": form.text_width,
        "words": form.words,
        "title": form.title,
        "columns": form.columns,
        "colour": look.colour,
        "bleed": look.bleed,
        "crop_marks": look.crop_marks,
        "two_sided": look.two_sided,
        "tab_style": look.tab_style,
    }


Measured = Sequence[tuple[Words, float]]


def _alone(
    engraver: Engraver, form: Format, head: float, below: Measured, page: Mapping[str, object]
) -> dict[str, object]:
    """On a page of its own, with as many words as leave the music room; else on several."""
    found = next(_one_page(engraver, form, head, below), None)
    if found:
        way, setting = found
        sheets = [_sheet(engraver.tune.title, setting.systems, setting.gaps)]
        gap = setting.section_gap
    else:
        way, sheets = _several(engraver, form, head, below)
        gap = 0.0
    told = any(each.story for each, _ in below)
    pieces = _story_pages(page, form) if told and way.story == NO_STORY else []
    return {
        "sheets": [*sheets, *([] for _ in pieces)],
        "words_sheet": len(sheets) - 1,
        "below": way._asdict(),
        "story_pages": pieces,
        "section_gap": round(gap, 3),
    }


def _one_page(
    engraver: Engraver, form: Format, head: float, below: Measured
) -> Iterator[tuple[Words, Setting]]:
    """Ways to one page: with the chart before without, a large staff before many words."""
    roomy = tuple(staff for staff in form.staves if staff >= ROOMY_STAFF) or form.staves[:1]
    for story in dict.fromkeys(way.story for way, _ in below):
        for chart in (True, False):
            last = not chart and story != FULL
            for staves in (roomy, form.staves, form.small if last else ()):
                for way, height in below:
                    if (way.chart, way.story) != (chart, story) or not staves:
                        continue
                    room = form.text_height - head - height - SLACK
                    for setting in fitted(engraver, room, staves):
                        yield way, setting


def _several(
    engraver: Engraver, form: Format, head: float, below: Measured
) -> tuple[Words, list[list[dict[str, object]]]]:
    """On two pages or more: of as few as there can be, the way with the most words."""
    first, room = form.text_height - head - SLACK, form.text_height - SLACK
    least = min(height for _, height in below)
    setting = flowing(engraver, first, room, least, form.staves)
    tries = [
        (way, sheets_of(setting.systems, setting.staff, first, room, height))
        for way, height in below
        if height <= room
    ]
    fewest = min(len(sheets) for _, sheets in tries)
    way, sheets = next(found for found in tries if len(found[1]) == fewest)
    title = engraver.tune.title
    lines = len(setting.systems)
    made, done = [], 0
    for sheet in sheets:
        made.append(_sheet(title, sheet.systems, sheet.gaps, done, lines))
        done += len(sheet.systems)
    return way, made


def _story_pages(page: Mapping[str, object], form: Format) -> list[list[dict[str, object]]]:
    """A long story on pages of its own, in pieces that fit."""
    told: Any = page["story"]
    pieces = [
        {"label": entry["label"] if number == 0 else None, "text": text}
        for entry in told
        for number, text in enumerate(_pieces(entry["text"]))
    ]
    data = {"title": page["title"], "look": page["look"], "story": pieces}
    (heights,) = _press().told(data, "<heights>")
    pages: list[list[dict[str, object]]] = []
    room = 0.0
    for piece, height in zip(pieces, heights["story"], strict=True):
        if not pages or height > room:
            pages.append([])
            room = form.text_height - STORY_TITLE - SLACK
        pages[-1].append(piece)
        room -= height
    return pages


STORY_TITLE = 12.0  # mm, of the heading of such a page
_SENTENCE_END = re.compile(r"(?<=[.!?;,])\s+|\s+(?=\S{40})")


def _pieces(text: str) -> Iterator[str]:
    """A paragraph in pieces of some length, broken between sentences."""
    piece = ""
    for sentence in _SENTENCE_END.split(text):
        if piece and len(piece) + len(sentence) > STORY_PIECE:
            yield piece
            piece = ""
        piece = f"{piece} {sentence}" if piece else sentence
    yield piece


def _shared(
    engraver: Engraver, form: Format, head: float, below: Measured, look: BookLook
) -> dict[str, Any] | None:
    """For half a page, without the harp chart; None where it needs more."""
    if not look.two_to_a_page:
        return None
    half = (form.text_height - BETWEEN) / 2
    told = any(way.story for way, _ in below)
    for way, height in below:
        if way.chart or (told and not way.story):
            continue
        room = half - head - height - SLACK
        for setting in fitted(engraver, room, form.shared):
            used = sum(system.height for system in setting.systems) + sum(setting.gaps)
            total = head + used + GAPS * setting.section_gap + height + SLACK
            return {
                "sheets": [_sheet(engraver.tune.title, setting.systems, setting.gaps)],
                "words_sheet": 0,
                "below": way._asdict(),
                "story_pages": [],
                "section_gap": round(setting.section_gap, 3),
                "height": round(min(total, half), 2),
            }
    return None


def _sheet(
    title: str,
    systems: Sequence[System],
    gaps: Sequence[float],
    before: int = 0,
    lines: int | None = None,
) -> list[dict[str, object]]:
    """What the template is given of a page's systems; `before`: how many stand before it."""
    return [
        {
            "svg": slim(system.svg),
            "width": system.width,
            "height": system.height,
            "overhang": system.overhang,
            "gap": round(gap, 3),
            "alt": _alt(title, before + number, lines or len(systems)),
        }
        for number, (system, gap) in enumerate(zip(systems, gaps, strict=True), 1)
    ]


def _alt(title: str, line: int, lines: int) -> str:
    if line > 1:
        return f"The music goes on, line {line} of {lines}."
    more = f", line 1 of {lines}" if lines > 1 else ""
    return f"Sheet music of {title} with tab under each note{more}."
