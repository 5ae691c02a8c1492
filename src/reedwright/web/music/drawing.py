"""An arrangement as a page shows it: systems of music with tab, the harp, the tab in words.

Public: `Sheet`, `sheet`, `WIDE`, `NARROW`.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from reedwright.pack.site.drawing import inlined
from reedwright.page.content import lesson_content
from reedwright.page.engraving import Engraver, Look
from reedwright.page.settings import PageSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.notation import tab_rows
from reedwright.tab.spoken import spoken_tab


class Width(NamedTuple):
    """Millimetres, and the size of staff and tab."""

    millimetres: float
    look: Look


WIDE = Width(172.0, Look(6.4, 10.7))
NARROW = Width(88.0, Look(5.6, 9.3))

# Notes and graces by the tune's own ids, which the engraver gives to their groups.
_NOTE = re.compile(r'<g id="s\d+-(n\d+(?:[a-z]\d+)*)" class="note')


@dataclass(frozen=True, slots=True)
class Sheet:
    """`systems`, `chart`: SVG elements, safe inside a page. In `systems` the group of every note
    has `data-note`, the note's id in the tune. `words`: the music in a sentence; `tab`: the tab as
    words, a line for each line of music; `signs`: what the signs in the tab mean."""

    systems: tuple[str, ...]
    chart: str
    words: str
    chart_words: str
    tab: str
    signs: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]


def sheet(arrangement: Arrangement, width: Width = WIDE, tab_style: str = "arrows") -> Sheet:
    """Draw it; about 60 ms. Raises what engraving does."""
    content = lesson_content(arrangement, PageSettings(tab_style=tab_style))
    engraver = Engraver(
        arrangement.tune,
        tab_rows(arrangement, tab_style),
        arrangement.voice,
        width.millimetres,
        Fraction(1),
    )
    systems = engraver.engrave(engraver.plan(width.look))
    return Sheet(
        systems=tuple(
            _pointed(inlined(system.svg, f"s{k}-", content.music_words, hidden=k > 0))
            for k, system in enumerate(systems)
        ),
        chart=inlined(content.chart, "c-", content.chart_words),
        words=content.music_words,
        chart_words=content.chart_words,
        tab=spoken_tab(arrangement),
        signs=tuple((sign.sign, sign.text) for sign in content.tab_key),
        facts=tuple((fact.label or "", fact.text) for fact in content.facts),
        remarks=content.remarks,
    )


def _pointed(svg: str) -> str:
    return _NOTE.sub(lambda match: f'{match[0][:-11]} data-note="{match[1]}" class="note', svg)
