"""The lesson page: one tune with its tab, the harp, and notes on playing it, as tagged PDF.

Public: `lesson_pdf`. The look is a Typst template (templates/lesson.typ, or the user's
own); what a template is given stands in docs/page.md.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from reedwright.page.content import LessonContent, lesson_content
from reedwright.page.engraving import Engraver
from reedwright.page.fitting import SMALL_STAVES, STAVES, Setting, fitted, flowing, might_fit_small
from reedwright.page.harpchart import chart_width
from reedwright.page.press import FONTS, Measure, Press, page_count
from reedwright.page.settings import PAPERS, SIDE_MARGIN, PageSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.notation import tab_rows
from reedwright.tune.tempo import tempo_of

__all__ = ["FONTS", "LaidOut", "laid_out", "lesson_data", "lesson_pdf"]

TOP_MARGIN, BOTTOM_MARGIN = 13.0, 15.0  # mm
# Type of the notes on playing, points, where there is room and where there is not.
ROOMY, COMPACT = 10.2, 9.2
CHART_SCALE = 0.73  # paper to drawing: its smallest type is 7.7 points then
# The smallest staff, mm, that roomy words may push the music to.
ROOMY_STAFF = 6.4
KEY_ROOM = 12.0  # mm for how to read the tab, on a page of music alone
COMFORTABLE = 9  # staves, the largest first, that such a page may have
MOST_BESIDE_MUSIC = 5  # notes on playing, besides that on health, where one page holds all
SLACK = 1.5  # mm, that the estimate does not know
# Heights of a page's words where a template does not tell them, mm.
GUESSED_WORDS = 130.0
NO_MUSIC = Setting((), (), 0.0, STAVES[0])


def lesson_pdf(arrangement: Arrangement, settings: PageSettings | None = None) -> bytes:
    """The lesson as PDF/UA-1, the same bytes for the same arrangement and settings.

    The music is set as generously as lets all of it stand on one page, if need be with fewer
    notes on playing. Where even the smallest readable size needs more, the music has the first
    page and the words the second, or it flows over several pages at a comfortable size.

    Raises
    ------
    NotEngraved, NotTypeset
    """
    return laid_out(arrangement, settings).pdf


class LaidOut(NamedTuple):
    """A lesson whose pages are settled: the PDF, and of what data which press made it."""

    pdf: bytes
    press: Press
    data: dict[str, object]


def laid_out(arrangement: Arrangement, settings: PageSettings | None = None) -> LaidOut:
    """The lesson as `lesson_pdf` sets it. Raises as that does."""
    chosen = settings or PageSettings()
    content = lesson_content(arrangement, chosen)
    rows = tab_rows(arrangement, chosen.tab_style)
    tune = arrangement.tune
    speed = Fraction(1)
    own = tempo_of(tune).quarters_per_minute
    if chosen.tempo is not None and own:
        speed = Fraction(chosen.tempo) / own
    width = chosen.size[0] - 2 * SIDE_MARGIN
    engraver = Engraver(tune, rows, arrangement.voice, width, speed)
    press = Press(chosen.template)
    told = _most_useful(content)
    for words, setting in _settings_that_fit(engraver, press, told, chosen):
        found = _typeset(press, lesson_data(told, setting, chosen, words))
        if page_count(found.pdf) == 1:
            return found
    flowed = [_flowed(engraver, press, words, chosen) for words in (content, told)]
    # Of equals the first, which has all the notes.
    return min(flowed, key=lambda each: page_count(each.pdf))


def _typeset(press: Press, data: dict[str, object]) -> LaidOut:
    return LaidOut(press.typeset(data), press, data)


def _flowed(
    engraver: Engraver, press: Press, content: LessonContent, settings: PageSettings
) -> LaidOut:
    """The music on the first page and the words on the second, or all over several pages."""
    height = settings.size[1] - TOP_MARGIN - BOTTOM_MARGIN
    measure = press.measure(lesson_data(content, NO_MUSIC, settings, ROOMY))
    top = measure.music[1] if measure else GUESSED_WORDS / 2
    words_height = measure.end[1] - top if measure and measure.end[0] == 1 else GUESSED_WORDS / 2
    first = settings.size[1] - BOTTOM_MARGIN - top
    alone = _music_alone(engraver, first - KEY_ROOM - SLACK)
    if alone is not None:
        found = _typeset(press, lesson_data(content, alone, settings, ROOMY, notes_page=True))
        if page_count(found.pdf) == 2:
            return found
    setting = flowing(engraver, first - SLACK, height - SLACK, words_height)
    return _typeset(press, lesson_data(content, setting, settings, ROOMY))


def _most_useful(content: LessonContent) -> LessonContent:
    """With as many notes on playing as leave the music room; the most useful come first.

    The very last, on health, always stays.
    """
    *notes, health = content.remarks
    return replace(content, remarks=(*notes[:MOST_BESIDE_MUSIC], health))


def _music_alone(engraver: Engraver, room: float) -> Setting | None:
    """All the music on one page, as large as that lets it be, or None."""
    found = (next(fitted(engraver, room, [staff]), None) for staff in STAVES[:COMFORTABLE])
    return next((setting for setting in found if setting is not None), None)


def _settings_that_fit(
    engraver: Engraver, press: Press, content: LessonContent, settings: PageSettings
) -> Iterator[tuple[float, Setting]]:
    """Sizes of words and music that should fit one page, the most generous first."""
    staves = [staff for staff in STAVES if staff >= ROOMY_STAFF]
    room = _room(press.measure(lesson_data(content, NO_MUSIC, settings, ROOMY)), settings)
    for setting in fitted(engraver, room, staves):
        yield ROOMY, setting
    room = _room(press.measure(lesson_data(content, NO_MUSIC, settings, COMPACT)), settings)
    for setting in fitted(engraver, room, STAVES):
        yield COMPACT, setting
    if might_fit_small(engraver, room):
        for setting in fitted(engraver, room, SMALL_STAVES):
            yield COMPACT, setting


def _room(measure: Measure | None, settings: PageSettings) -> float:
    """What the words leave of one page for the music, mm."""
    height = settings.size[1] - TOP_MARGIN - BOTTOM_MARGIN
    if measure is None:
        return height - GUESSED_WORDS
    page, y = measure.end
    return height - (page - 1) * height - (y - TOP_MARGIN) - SLACK


def lesson_data(
    content: LessonContent,
    setting: Setting,
    settings: PageSettings,
    words: float = COMPACT,
    notes_page: bool = False,
) -> dict[str, object]:
    """What a template is given, JSON-ready; docs/page.md describes it.

    `words`: type of the notes on playing, points. `notes_page`: they begin a new page.
    """
    systems = setting.systems
    footer = [content.source and f"Source: {content.source}.", content.rights]
    return {
        "title": content.title,
        "also": content.also,
        "kind": content.kind,
        "key": content.key,
        "composer": content.composer,
        "author": content.composer,
        "description": content.music_words,
        "facts": [fact._asdict() for fact in content.facts],
        "systems": [
            {
                "svg": system.svg,
                "width": system.width,
                "height": system.height,
                "overhang": system.overhang,
                "gap": setting.gaps[index],
                "alt": content.music_words if index == 0 else _system_words(index, len(systems)),
            }
            for index, system in enumerate(systems)
        ],
        "system_gap": max(setting.gaps, default=0.0),
        "section_gap": setting.section_gap,
        "text_size": words,
        "notes_page": notes_page,
        "tab_key": [sign._asdict() for sign in content.tab_key],
        "chart": {
            "svg": content.chart,
            "width": round(chart_width(content.chart) * CHART_SCALE, 2),
            "alt": content.chart_words,
        },
        "breath": {
            "svg": content.breath.svg,
            "width": round(content.breath.width, 2),
            "alt": content.breath.words,
        }
        if content.breath
        else None,
        "harp": {"name": content.harp, "position": content.position},
        "remarks": content.remarks,
        "background": [entry._asdict() for entry in content.background],
        "source": content.source,
        "rights": content.rights,
        "footer": " ".join(part for part in footer if part),
        "paper": PAPERS[settings.paper][0],
        "margins": {"side": SIDE_MARGIN, "top": TOP_MARGIN, "bottom": BOTTOM_MARGIN},
    }


def _system_words(index: int, count: int) -> str:
    return f"The music goes on, line {index + 1} of {count}."
