"""An arrangement as a page shows it: systems of music with tab, the harp, the tab in words.

The music is drawn at once; notes on practice are most of the work and are not what somebody who
edits waits for, so they are asked for apart (`practice_notes`).

Public: `Sheet`, `sheet`, `practice_notes`, `known_notes`, `WIDE`, `NARROW`, `STAND`, `LARGE`,
`WIDTHS`, `drawn_print`.
"""

from __future__ import annotations

import hashlib
import re
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from reedwright.pack.site.drawing import inlined
from reedwright.page.content import lesson_content, lesson_notes
from reedwright.page.engraving import Engraver, Look
from reedwright.page.knownsystems import Drawn
from reedwright.page.settings import PageSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.notation import tab_rows
from reedwright.tab.spoken import spoken_tab
from reedwright.web.music.crew import Crew, most_processes
from reedwright.web.remembering import Remembered


class Width(NamedTuple):
    """Millimetres, and the size of staff and tab."""

    millimetres: float
    look: Look


WIDE = Width(172.0, Look(6.4, 10.7))
NARROW = Width(88.0, Look(5.6, 9.3))
STAND = Width(120.0, Look(6.4, 14.5))
"""For a music stand: two bars or so in a line, the tab large enough to read from a step away."""
LARGE = Width(76.0, Look(6.4, 14.5))
"""For a stand further away: about one bar in a line."""
WIDTHS: Mapping[str, Width] = {"wide": WIDE, "narrow": NARROW, "stand": STAND, "large": LARGE}

# Notes and graces by the tune's own ids, which the engraver gives to their groups; a chord's
# first note has the id, and the chord is what is drawn.
_NOTE = re.compile(r'<g id="([^"]*)" class="(note|chord|measure)"')
_OURS = re.compile(r"(?:v\d+)?o?n\d+(?:[a-z]\d+)*")
_MOUTH = re.compile(r'<rect x="[\d.]+" y="[\d.]+" width="[\d.]+" height="[\d.]+" rx="2" ')


@dataclass(frozen=True, slots=True)
class Sheet:
    """`systems`, `chart`: SVG elements, safe inside a page. In `systems` the group of every note
    has `data-note`, the note's id in the tune as it is played (a chord's group has it, not its
    notes), and the group of every bar `data-bar`, its index. In `chart` the mouth of every hole has
    `data-hole`. `words`: the music in a sentence; `tab`: the tab as words, a line for each line of
    music; `signs`: what the signs in the tab mean."""

    systems: tuple[str, ...]
    chart: str
    words: str
    chart_words: str
    tab: str
    signs: tuple[tuple[str, str], ...]
    facts: tuple[tuple[str, str], ...]

    @property
    def size(self) -> int:
        """Characters, about."""
        return sum(map(len, self.systems)) + len(self.chart) + len(self.tab)


_DRAWN: Remembered[Sheet] = Remembered(40_000_000, lambda sheet: sheet.size)


def _prepare() -> None:
    """Have at hand what drawing needs, besides this module."""
    import verovio  # noqa: F401


_CREW = Crew(most_processes(), _prepare)


class _Lately(OrderedDict[str, Drawn]):
    """Systems by their keys; those that were not wanted for longest are forgotten."""

    def __init__(self, most: int) -> None:
        super().__init__()
        self._most = most
        self._lock = threading.Lock()

    def __getitem__(self, key: str) -> Drawn:
        with self._lock:
            self.move_to_end(key)
            return super().__getitem__(key)

    def __setitem__(self, key: str, drawn: Drawn) -> None:
        with self._lock:
            super().__setitem__(key, drawn)
            while len(self) > self._most:
                self.popitem(last=False)


_SYSTEMS = _Lately(2_000)  # some 15 kB each


def drawn_print(arrangement: Arrangement) -> str:
    """What tells arrangements apart by all that can be seen or heard of them."""
    seen = (
        arrangement.tune,
        arrangement.harp,
        arrangement.player,
        sorted(arrangement.soundings.items()),
        (arrangement.octaves, arrangement.semitones, arrangement.voice),
        (arrangement.ornaments, arrangement.breaths, arrangement.wishes.breaths),
        (arrangement.missing, arrangement.warnings, arrangement.quarters_per_minute),
    )
    text = repr(seen)
    return hashlib.blake2b(text.encode("utf-8", "replace"), digest_size=16).hexdigest()


def sheet(
    arrangement: Arrangement, width: Width = WIDE, tab_style: str = "arrows", prefix: str = ""
) -> Sheet:
    """Draw it, or give what was drawn of it lately: some 80 ms for 32 bars. Raises as engraving.

    `prefix`: of all ids, where a page shows several sheets.
    """
    key = (drawn_print(arrangement), width, tab_style, prefix)
    return _DRAWN.get(key, lambda: _CREW.do(_sheet, arrangement, width, tab_style, prefix))


_NOTES: Remembered[tuple[str, ...]] = Remembered(256)


def practice_notes(arrangement: Arrangement) -> tuple[str, ...]:
    """What a student is told about playing it, the most useful first; about 100 ms, or lately
    worked out."""
    return _NOTES.get(drawn_print(arrangement), lambda: _CREW.do(lesson_notes, arrangement))


def known_notes(arrangement: Arrangement) -> tuple[str, ...] | None:
    """The same where they were worked out lately."""
    return _NOTES.there(drawn_print(arrangement))


def _sheet(arrangement: Arrangement, width: Width, tab_style: str, prefix: str) -> Sheet:
    content = lesson_content(arrangement, PageSettings(tab_style=tab_style), notes=())
    engraver = Engraver(
        arrangement.tune,
        tab_rows(arrangement, tab_style),
        arrangement.voice,
        width.millimetres,
        Fraction(1),
    )
    systems = engraver.engrave(engraver.plan(width.look), _SYSTEMS)
    return Sheet(
        systems=tuple(
            inlined(_pointed(system.svg, system.bars), f"{prefix}s{k}-", content.music_words, k > 0)
            for k, system in enumerate(systems)
        ),
        chart=_holes(inlined(content.chart, f"{prefix}c-", content.chart_words)),
        words=content.music_words,
        chart_words=content.chart_words,
        tab=spoken_tab(arrangement),
        signs=tuple((sign.sign, sign.text) for sign in content.tab_key),
        facts=tuple((fact.label or "", fact.text) for fact in content.facts),
    )


def _pointed(svg: str, bars: tuple[int, ...]) -> str:
    """With the notes' ids and the bars' indices as attributes of their groups."""
    out: list[str] = []
    at = 0
    measures = iter(bars)
    chord = -1  # where in `out` the group of a chord waits for the id of its first note
    for match in _NOTE.finditer(svg):
        id_, kind = match.groups()
        out.append(svg[at : match.start()])
        at = match.end()
        attribute = ""
        if kind == "measure":
            bar = next(measures, None)
            attribute = "" if bar is None else f' data-bar="{bar}"'
        elif kind == "chord":
            chord = len(out)
        elif _OURS.fullmatch(id_):
            if chord >= 0:
                out[chord] = f'<g data-note="{id_}"{out[chord][2:]}'
                chord = -1
            else:
                attribute = f' data-note="{id_}"'
        out.append(f'<g id="{id_}"{attribute} class="{kind}"')
    return "".join((*out, svg[at:]))


def _holes(chart: str) -> str:
    hole = 0

    def numbered(match: re.Match[str]) -> str:
        nonlocal hole
        hole += 1
        return f'{match[0]}data-hole="{hole}" '

    return _MOUTH.sub(numbered, chart)
