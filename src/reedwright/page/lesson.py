"""The lesson page: one tune with its tab, the harp, and notes on playing it, as tagged PDF.

Public: `lesson_pdf`. The look is a Typst template (templates/lesson.typ, or the user's
own); what a template is given stands in docs/page.md.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from functools import cache
from pathlib import Path
from typing import Any

from reedwright.errors import ReedwrightError
from reedwright.page.content import LessonContent, lesson_content
from reedwright.page.engraving import SMALLEST_TAB, Look, System, engrave
from reedwright.page.settings import PAPERS, PageSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.notation import tab_rows

HERE = Path(__file__).parent
TEMPLATE = HERE / "templates" / "lesson.typ"
FONTS = HERE / "fonts"
STANDARD = "ua-1"  # PDF/UA-1, ISO 14289-1
CREATION_TIME = 0  # seconds of the UNIX epoch: one for all, so that the bytes never differ

SIDE_MARGIN, TOP_MARGIN, BOTTOM_MARGIN = 16.0, 13.0, 15.0  # mm
GAP = 2.6  # mm between systems
CHART_WIDTH = 98.0  # mm
# Sizes of the staff (mm) and of the tab (points) to try, the best first.
LOOKS = ((6.4, 10.2), (6.1, 9.9), (5.8, 9.6), (5.5, 9.4), (5.2, 9.2), (4.9, SMALLEST_TAB))
SPREAD_LOOK = 1  # of these, for a tune that takes two pages anyway


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
    width = chosen.size[0] - 2 * SIDE_MARGIN
    press = _Press(chosen)
    for staff, tab in LOOKS:
        systems = engrave(
            arrangement.tune, rows, arrangement.voice, Look(width=width, staff=staff, tab=tab)
        )
        pdf, pages = press.typeset(content, systems)
        if pages == 1:
            return pdf
    staff, tab = LOOKS[SPREAD_LOOK]
    look = Look(width=width, staff=staff, tab=tab)
    systems = engrave(arrangement.tune, rows, arrangement.voice, look)
    return press.typeset(content, systems)[0]


class _Press:
    """Typst with one template, which keeps what it has laid out from one try to the next."""

    def __init__(self, settings: PageSettings) -> None:
        import typst

        self._settings = settings
        self._template = settings.template or TEMPLATE
        if not self._template.is_file():
            raise NotTypeset(f"No template {self._template}: name a Typst file that exists.")
        self._error = typst.TypstError
        self._compiler = typst.Compiler(
            str(self._template), root=str(self._template.parent), font_paths=_fonts()
        )

    def typeset(self, content: LessonContent, systems: Sequence[System]) -> tuple[bytes, int]:
        """The PDF and its number of pages."""
        data = json.dumps(lesson_data(content, systems, self._settings), ensure_ascii=False)
        try:
            pdf = self._compiler.compile(
                format="pdf",
                sys_inputs={"lesson": data},
                pdf_standards=[STANDARD],
                timestamp=CREATION_TIME,
            )
        except self._error as error:
            raise NotTypeset(
                f"Template {self._template}: {error.message.strip()}. "
                "What a template is given, and what PDF/UA-1 asks of it, stands in docs/page.md."
            ) from error
        return pdf, _page_count(pdf)


@cache
def _fonts() -> Any:
    """Our fonts and those that Typst brings; none of the system's, so pages never differ."""
    import typst

    return typst.Fonts(include_system_fonts=False, font_paths=[str(FONTS)])


def _page_count(pdf: bytes) -> int:
    counts = re.findall(rb"/Type\s*/Pages\b[^>]*?/Count\s+(\d+)", pdf)
    counts += re.findall(rb"/Count\s+(\d+)[^>]*?/Type\s*/Pages\b", pdf)
    return max(map(int, counts), default=1)


def lesson_data(
    content: LessonContent, systems: Sequence[System], settings: PageSettings
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
                "alt": content.music_words if index == 0 else _system_words(index, len(systems)),
            }
            for index, system in enumerate(systems)
        ],
        "system_gap": GAP,
        "tab_key": [sign._asdict() for sign in content.tab_key],
        "chart": {"svg": content.chart, "width": CHART_WIDTH, "alt": content.chart_words},
        "harp": {"name": content.harp},
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
