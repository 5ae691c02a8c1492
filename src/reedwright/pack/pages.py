"""What a pack holds to read: the page, MusicXML, ABC, and the tab in words."""

from __future__ import annotations

from pathlib import Path

from reedwright.pack.cautions import CAUTIONS, TAKE_RIGHTS, rights_statement
from reedwright.pack.settings import PackSettings
from reedwright.page.lesson import lesson_pdf
from reedwright.page.settings import PageSettings
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.difficulty.grade import difficulty
from reedwright.tab.difficulty.practice import practice_plan
from reedwright.tab.difficulty.report import grade_words
from reedwright.tab.notation import tab_rows
from reedwright.tab.remarks import remarks
from reedwright.tab.spoken import spoken_tab
from reedwright.tab.words import moved_words
from reedwright.tune.abc import write_abc
from reedwright.tune.musicxml import write_musicxml
from reedwright.tune.rights import rights_line


def write_pages(arrangement: Arrangement, settings: PackSettings, folder: Path) -> dict[str, str]:
    """Write them into `folder`, named for it; returns what each is, by file name."""
    name, tune = folder.name, arrangement.tune
    page = PageSettings(
        settings.paper,
        settings.tab_style,
        settings.tempo,
        settings.template,
        settings.breath_plot,
    )
    rows = tab_rows(arrangement, settings.tab_style)
    made: dict[str, tuple[str, bytes]] = {
        f"{name}.pdf": ("the page: music, tab, harp chart, notes", lesson_pdf(arrangement, page)),
        f"{name}.txt": (
            "the tab in words, for reading aloud",
            in_words(arrangement, settings.take is not None).encode(),
        ),
        f"{name}.musicxml": (
            "for notation programs, with tab",
            write_musicxml(tune, rows, voices=(arrangement.voice,)).encode(),
        ),
        f"{name}.abc": (
            "for ABC programs, with tab lines",
            (abc_heading(arrangement) + write_abc(tune, rows)).encode(),
        ),
    }
    for file, (_, content) in made.items():
        (folder / file).write_bytes(content)
    return {file: what for file, (what, _) in made.items()}


def abc_heading(arrangement: Arrangement) -> str:
    """Comments that say what the tab lines are for; `%abc-2.1` tells programs the standard."""
    moved = moved_words(arrangement.octaves, arrangement.semitones)
    if moved:
        moved = f", the tune moved {moved} from its written pitch"
    return f"%abc-2.1\n% The w: lines are tab for {arrangement.harp.name}{moved}.\n\n"


def _how_hard(arrangement: Arrangement) -> list[str]:
    """The grade and why, as the heading of the practice plan."""
    found = difficulty(arrangement)
    reasons = [
        f"{reason.kind.value.capitalize()}: {reason.words}."
        for reason in found.reasons
        if reason.share
    ]
    return ["How to practise it", f"{grade_words(found)}.", *reasons]


def in_words(arrangement: Arrangement, has_take: bool = False) -> str:
    """The whole lesson as plain text: tab, notes on technique, cautions, rights.

    `has_take`: somebody's recording goes with it.
    """
    notes = [remark.text for remark in remarks(arrangement)]
    parts = [spoken_tab(arrangement).rstrip()]
    if notes:
        parts.append("\n".join(["Notes on playing it", *notes]))
    parts.append("\n".join([*_how_hard(arrangement), *practice_plan(arrangement).sentences]))
    parts.append("\n".join(["Before you play", *CAUTIONS]))
    rights = [rights_statement(rights_line(arrangement.tune)), *([TAKE_RIGHTS] * has_take)]
    parts.append("\n".join(["Rights", *rights]))
    return "\n\n".join(parts) + "\n"
