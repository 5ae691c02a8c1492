"""The report as a page to read: PDF/UA-1 by Typst, with the pictures of `curves` and `strips`.

Public: `write_report_page`, `report_pdf`.
"""

from __future__ import annotations

from pathlib import Path

from reedwright.files import write_whole
from reedwright.page.press import HERE, Press
from reedwright.page.settings import PAPERS, SIDE_MARGIN, PageSettings
from reedwright.takes.report.curves import pitch_drawing, tempo_drawing
from reedwright.takes.report.model import TakeReport, Verdict
from reedwright.takes.report.phrases import clock_time
from reedwright.takes.report.strips import Strip, legend, strips
from reedwright.takes.report.words import sections, tempo_words

TEMPLATE = HERE / "templates" / "take-report.typ"
TOP_MARGIN, BOTTOM_MARGIN = 14.0, 15.0  # mm
STRIP_GAP = 3.2  # mm
MOST_ITEMS = 40  # of a list on paper


def write_report_page(report: TakeReport, path: Path, settings: PageSettings | str = "a4") -> None:
    """Write the report as a PDF. `settings`: those of a page, or the name of a paper.

    Raises `NotTypeset`, and `ReedwrightError` for a paper that there is not.
    """
    chosen = PageSettings(paper=settings) if isinstance(settings, str) else settings
    write_whole(path, report_pdf(report, chosen))


def report_pdf(report: TakeReport, settings: PageSettings | None = None) -> bytes:
    """The report as PDF/UA-1, the same bytes for the same report and settings."""
    chosen = settings or PageSettings()
    return Press(chosen.template or TEMPLATE).typeset(page_data(report, chosen))


def page_data(report: TakeReport, settings: PageSettings) -> dict[str, object]:
    """What the template is given, JSON-ready."""
    width = settings.size[0] - 2 * SIDE_MARGIN
    title = report.title
    data: dict[str, object] = {
        "title": title,
        "description": f"A report on a take of {title}.",
        "paper": PAPERS[settings.paper][0],
        "margins": {"side": SIDE_MARGIN, "top": TOP_MARGIN, "bottom": BOTTOM_MARGIN},
        "fits": report.fits,
        "message": report.message,
        "harp": report.harp.name if report.fits else "",
        "facts": _facts(report),
        "useful": [
            {"where": _capital(a.where), "what": a.what, "advice": a.advice}
            for a in report.most_useful
        ],
        "well": list(report.went_well),
        "sections": [],
        "tempo": None,
        "pitch": None,
        "legend": None,
        "strips": [],
    }
    if not report.fits:
        return data
    pitch = pitch_drawing(report, width)
    return data | {
        "sections": [
            {
                "heading": heading,
                "items": [_capital(item) for item in items[:MOST_ITEMS]],
                "more": max(0, len(items) - MOST_ITEMS),
            }
            for heading, items in sections(report)
        ],
        "tempo": _drawn(tempo_drawing(report, width)) if report.bars else None,
        "pitch": _drawn(pitch) if pitch else None,
        "legend": _drawn(legend(width)),
        "strips": [_drawn(strip) for strip in strips(report, width)],
        "strip_gap": STRIP_GAP,
    }


def _drawn(strip: Strip) -> dict[str, object]:
    return {"svg": strip.svg, "width": round(strip.width, 2), "alt": strip.words}


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _facts(report: TakeReport) -> list[dict[str, str]]:
    following = report.following
    facts = [("length", clock_time(following.heard.duration))]
    if report.tempo is not None:
        facts.append(("tempo", tempo_words(report.tempo)))
    facts.append(("pitch", f"A = {report.a4:.1f} Hz"))
    notes = [note for note in report.notes if not note.is_grace]
    if notes:
        right = sum(note.verdict is Verdict.PLAYED for note in notes)
        facts.append(("notes", f"{right} of {len(notes)} right"))
    return [{"label": label, "text": text} for label, text in facts]
