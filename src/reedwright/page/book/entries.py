"""One tune engraved for its place in a book.

A tune is set for a page (or more) of its own, and, where it is short, once more for half of one:
`printing` takes whichever its place asks for. Lengths are mm.

Public: `tune_entry`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cache
from typing import Any, NamedTuple

from reedwright.harp.position import position
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
from reedwright.page.engraving import Engraver, System
from reedwright.page.fitting import Setting, fitted, flowing
from reedwright.page.harpchart import chart_svg, chart_width
from reedwright.page.press import HERE, Press
from reedwright.page.settings import PageSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.grade import difficulty
from reedwright.tab.notation import tab_rows
from reedwright.tune.rights import rights_line

MEASURES = HERE / "templates" / "book-measures.typ"
CHART_SCALE = 0.73  # paper to drawing: its smallest type is 7.7 points then
SLACK = 1.5  # mm, that the estimate does not know
BETWEEN = 9.0  # mm at least between two tunes of one page
FEW_NOTES, MOST_NOTES = 2, 5  # on playing, where the music needs the room
ROOMY_STAFF = 6.4  # mm: smaller ones only where fewer words do not help


class Words(NamedTuple):
    """What stands under the music: the harp chart or not, so many notes, the tune's story."""

    chart: bool
    notes: int
    story: bool


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
    ways = _ways(content, form, look)
    head, below = _measured(page, ways, form, look)
    alone = _alone(engraver, form, head, list(zip(ways, below, strict=True)))
    shared = _shared(engraver, form, head, list(zip(ways, below, strict=True)), look)
    melody = beginning(arrangement)
    page |= {
        "alone": alone,
        "shared": shared,
        "melody": melody.order,
        "signs": [sign._asdict() for sign in content.tab_key],
        "harp_chart": chart_svg(harp, title="", legend=False),
    }
    pages: Any = alone["sheets"]
    height = shared["height"] if shared else form.text_height * len(pages)
    return TuneEntry(
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
    """What may stand under the music, the most generous first; the last is nothing."""
    count = len(content.remarks)
    story = bool(content.background) and look.full_notes
    few = [number for number in (MOST_NOTES, FEW_NOTES) if number < count]
    ways = []
    if look.full_notes and form.chart:
        ways += [Words(True, number, story) for number in (count, *few)]
    if look.full_notes:
        ways += [Words(False, number, story) for number in (count, *few)]
    ways += [Words(False, 0, True)] if story else []
    return [*dict.fromkeys((*ways, Words(False, 0, False)))]


@cache
def _press() -> Press:
    return Press(MEASURES)


def _measured(
    page: dict[str, object], ways: Sequence[Words], form: Format, look: BookLook
) -> tuple[float, list[float]]:
    """Heights of the tune's head, and of what stands under its music in each of these ways."""
    data = {
        "title": page["title"],
        "look": look_data(form, look),
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


def _alone(engraver: Engraver, form: Format, head: float, below: Measured) -> dict[str, object]:
    """On a page of its own, with as many words as leave the music room; else on several."""
    for way, setting in _one_page(engraver, form, head, below):
        return {
            "sheets": [_sheet(engraver.tune.title, setting, setting.systems, 0)],
            "below": way._asdict(),
        } | _space(setting)
    way, height = below[0] if len(below) < 3 else below[-3]
    first = form.text_height - head - SLACK
    setting = flowing(engraver, first, form.text_height - SLACK, height)
    return {"sheets": list(_sheets(engraver.tune.title, setting)), "below": way._asdict()} | _space(
        setting
    )


def _one_page(
    engraver: Engraver, form: Format, head: float, below: Measured
) -> Iterator[tuple[Words, Setting]]:
    roomy = tuple(staff for staff in form.staves if staff >= ROOMY_STAFF) or form.staves[:1]
    charted = [(way, height) for way, height in below if way.chart]
    plain = [(way, height) for way, height in below if not way.chart]
    for ways in (charted, plain):
        for staves in (roomy, form.staves, form.small if ways is plain else ()):
            for way, height in ways:
                room = form.text_height - head - height - SLACK
                for setting in fitted(engraver, room, staves):
                    yield way, setting


def _shared(
    engraver: Engraver, form: Format, head: float, below: Measured, look: BookLook
) -> dict[str, Any] | None:
    """For half a page, without the harp chart; None where it needs more."""
    if not look.two_to_a_page:
        return None
    half = (form.text_height - BETWEEN) / 2
    story = any(way.story for way, _ in below)
    for way, height in below:
        if way.chart or way.story < story:
            continue
        room = half - head - height - SLACK
        for setting in fitted(engraver, room, form.shared):
            used = sum(s.height for s in setting.systems) + sum(setting.gaps)
            total = head + used + 3 * setting.section_gap + height + SLACK
            return {
                "sheets": [_sheet(engraver.tune.title, setting, setting.systems, 0)],
                "below": way._asdict(),
                "height": round(min(total, half), 2),
            } | _space(setting)
    return None


def _space(setting: Setting) -> dict[str, object]:
    return {"section_gap": round(setting.section_gap, 3)}


def _sheets(title: str, setting: Setting) -> Iterator[list[dict[str, object]]]:
    """The systems of each page: one without a gap above begins a page."""
    starts = [index for index, gap in enumerate(setting.gaps) if gap == 0.0]
    for first, last in zip(starts, [*starts[1:], len(setting.systems)], strict=True):
        yield _sheet(title, setting, setting.systems[first:last], first)


def _alt(title: str, line: int, lines: int) -> str:
    if line > 1:
        return f"The music goes on, line {line} of {lines}."
    more = f", line 1 of {lines}" if lines > 1 else ""
    return f"Sheet music of {title} with tab under each note{more}."


def _sheet(
    title: str, setting: Setting, systems: Sequence[System], first: int
) -> list[dict[str, object]]:
    return [
        {
            "svg": slim(system.svg),
            "width": system.width,
            "height": system.height,
            "overhang": system.overhang,
            "gap": round(setting.gaps[first + number], 3),
            "alt": _alt(title, first + number + 1, len(setting.systems)),
        }
        for number, system in enumerate(systems)
    ]
