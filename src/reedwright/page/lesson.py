"""The lesson page: one tune with its tab, the harp, and notes on playing it, as tagged PDF.

Public: `lesson_pdf`. The look is a Typst template (templates/lesson.typ, or the user's
own); what a template is given stands in docs/page.md.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from functools import cache
from pathlib import Path
from typing import Any, Final

from reedwright.errors import ReedwrightError
from reedwright.page.content import LessonContent, lesson_content
from reedwright.page.engraving import SMALLEST_TAB, Engraver, Look, Plan, System
from reedwright.page.settings import PAPERS, PageSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.notation import tab_rows

HERE = Path(__file__).parent
TEMPLATE = HERE / "templates" / "lesson.typ"
FONTS = HERE / "fonts"
STANDARD: Final = "ua-1"  # PDF/UA-1, ISO 14289-1
CREATION_TIME = 0  # seconds of the UNIX epoch: one for all, so that the bytes never differ

SIDE_MARGIN, TOP_MARGIN, BOTTOM_MARGIN = 16.0, 13.0, 15.0  # mm
SMALLEST_GAP, LARGEST_GAP = 1.2, 7.0  # mm between systems
CHART_WIDTH = 112.0  # mm
# Heights of the staff to try, mm; printed dance music has 5 to 7 mm (common practice).
STAVES = (7.0, 6.8, 6.6, 6.4, 6.2, 6.0, 5.8)
SMALL_STAVES = (5.6, 5.2, 4.8)  # where no other fits
SPREAD_STAVES = (6.6, 6.4, 6.2, 6.0)  # for a tune that takes two pages anyway
TAB_SHARE = 1.58  # points of tab to a millimetre of staff
# How much even breaks at phrase ends are worth against size (our own judgement).
SIZE_COST = 0.3  # for a millimetre of staff, in the units of `breaking`
SLACK = 5.0  # mm: the space above the music, and what the estimate does not know
# Heights of a page's words where a template does not tell them, mm.
GUESSED_WORDS = 130.0


class NotTypeset(ReedwrightError):
    """The template did not make a page."""


def lesson_pdf(arrangement: Arrangement, settings: PageSettings | None = None) -> bytes:
    """The lesson as PDF/UA-1, the same bytes for the same arrangement and settings.

    The music is set as large as lets all of it stand on one page; where even the
    smallest readable size needs more, it flows over two or more at a comfortable size.

    Raises
    ------
    NotEngraved, NotTypeset
    """
    chosen = settings or PageSettings()
    rows = tab_rows(arrangement, chosen.tab_style)
    content = lesson_content(arrangement, chosen)
    press = _Press(chosen)
    room = chosen.size[1] - TOP_MARGIN - BOTTOM_MARGIN - press.words_height(content) - SLACK
    engraver = Engraver(arrangement.tune, rows, arrangement.voice, chosen.size[0] - 2 * SIDE_MARGIN)
    for systems in _settings_that_fit(engraver, room):
        gap = _gap(systems, room)
        pdf = press.typeset(content, systems, gap)
        if _page_count(pdf) == 1:
            return pdf
    systems = engraver.engrave(min(_plans(engraver, SPREAD_STAVES), key=_ugliness))
    return press.typeset(content, systems, LARGEST_GAP / 2)


def _looks(staves: Sequence[float]) -> list[Look]:
    """Staff and tab together; below the smallest readable tab only the staff shrinks."""
    return [Look(staff, max(SMALLEST_TAB, staff * TAB_SHARE)) for staff in staves]


def _plans(engraver: Engraver, staves: Sequence[float]) -> list[Plan]:
    return [engraver.plan(look) for look in _looks(staves)]


def _ugliness(plan: Plan) -> float:
    return plan.cost + SIZE_COST * (STAVES[0] - plan.look.staff)


def _settings_that_fit(engraver: Engraver, room: float) -> Iterator[tuple[System, ...]]:
    """Engravings of the music that fit into `room` mm, the most beautiful first.

    After the first engraving the others' heights are estimated from it, so that few are made.
    """
    each = 0.0  # height of a system in heights of a staff
    plans = (
        plan
        for staves in (STAVES, SMALL_STAVES)  # the second is only measured where it is needed
        for plan in sorted(_plans(engraver, staves), key=_ugliness)
    )
    for plan in plans:
        estimate = plan.systems * (each * plan.look.staff + SMALLEST_GAP) - SMALLEST_GAP
        if each and estimate > room * 1.02:
            continue
        systems = engraver.engrave(plan)
        height = sum(system.height for system in systems)
        each = height / len(systems) / plan.look.staff
        if height + SMALLEST_GAP * (len(systems) - 1) <= room:
            yield systems


def _gap(systems: Sequence[System], room: float) -> float:
    """Space between systems, mm, shared out of what is left."""
    if len(systems) < 2:
        return SMALLEST_GAP
    left = room - sum(system.height for system in systems)
    return max(SMALLEST_GAP, min(LARGEST_GAP, left / (len(systems) - 1)))


class _Press:
    """Typst with one template, which keeps what it has laid out from one try to the next.

    Only our fonts and Typst's are used, so pages never differ from machine to machine; where
    a text has letters that these lack (Chinese, say) the system's fonts are taken in, and
    what even they lack is printed as a question mark.
    """

    def __init__(self, settings: PageSettings) -> None:
        self._settings = settings
        self._template = settings.template or TEMPLATE
        if not self._template.is_file():
            raise NotTypeset(f"No template {self._template}: name a Typst file that exists.")
        self._system_fonts = False
        self._compiler = self._new_compiler()

    def _new_compiler(self) -> Any:
        import typst

        return typst.Compiler(
            str(self._template),
            root=str(self._template.parent),
            font_paths=_fonts(self._system_fonts),
        )

    def words_height(self, content: LessonContent) -> float:
        """Height of all but the music, mm: the template without systems tells it."""
        self.typeset(content, (), SMALLEST_GAP)
        found = json.loads(self._compiler.query("<end>", field="value"))
        if not found:
            return GUESSED_WORDS
        page, y = float(found[-1]["page"]), float(found[-1]["y"])
        height = self._settings.size[1] - TOP_MARGIN - BOTTOM_MARGIN
        return (page - 1) * height + y - TOP_MARGIN

    def typeset(self, content: LessonContent, systems: Sequence[System], gap: float) -> bytes:
        """The PDF, systems `gap` mm apart."""
        import typst

        data = json.dumps(lesson_data(content, systems, self._settings, gap), ensure_ascii=False)
        for _ in range(MOST_UNKNOWN_LETTERS):
            try:
                return self._compile(data)
            except typst.TypstError as error:
                unknown = _NO_LETTER.search(error.message)
                if not unknown:
                    raise NotTypeset(
                        f"Template {self._template}: {error.message.strip()}. What a template is "
                        "given, and what PDF/UA-1 asks of it, stands in docs/page.md."
                    ) from error
                if self._system_fonts:
                    letters = _ESCAPED.sub(lambda code: chr(int(code[1], 16)), unknown[1])
                    data = data.replace(letters, "?" * len(letters))
                else:
                    self._system_fonts = True
                    self._compiler = self._new_compiler()
        raise NotTypeset(
            f"{content.title}: too many letters that no font here has. Install a font for them."
        )

    def _compile(self, data: str) -> bytes:
        pdf = self._compiler.compile(
            format="pdf",
            sys_inputs={"lesson": data},
            pdf_standards=[STANDARD],
            timestamp=CREATION_TIME,
        )
        assert isinstance(pdf, bytes)  # of the format asked for, and no output file given
        return pdf


# What Typst says of letters that no font has, where PDF/UA-1 forbids to leave them out.
_NO_LETTER = re.compile(r'the text `"(.+?)"` could not be displayed')
_ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")
MOST_UNKNOWN_LETTERS = 100


@cache
def _fonts(system: bool) -> Any:
    import typst

    return typst.Fonts(include_system_fonts=system, font_paths=[str(FONTS)])


def _page_count(pdf: bytes) -> int:
    counts = re.findall(rb"/Type\s*/Pages\b[^>]*?/Count\s+(\d+)", pdf)
    counts += re.findall(rb"/Count\s+(\d+)[^>]*?/Type\s*/Pages\b", pdf)
    return max(map(int, counts), default=1)


def lesson_data(
    content: LessonContent, systems: Sequence[System], settings: PageSettings, gap: float
) -> dict[str, object]:
    """What a template is given, JSON-ready; docs/page.md describes it."""
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
                "alt": content.music_words if index == 0 else _system_words(index, len(systems)),
            }
            for index, system in enumerate(systems)
        ],
        "system_gap": gap,
        "tab_key": [sign._asdict() for sign in content.tab_key],
        "chart": {"svg": content.chart, "width": CHART_WIDTH, "alt": content.chart_words},
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
