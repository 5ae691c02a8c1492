"""The cutting sheet: every valve of a plan at true size, where it goes, and what it changes.

PDF/UA-1 by Typst (templates/cutting-sheet.typ). Drawings are placed at the size in mm that they
have (`valvedrawing`), so what is measured on the paper is what the plan says, if the printer does
not scale; two bars on the sheet tell.

Public: `write_cutting_sheet`, `cutting_sheet_pdf`, `cutting_sheet_svg`.
"""

from __future__ import annotations

from pathlib import Path

from reedwright.files import write_whole
from reedwright.harp.model import Breath
from reedwright.page.press import HERE, Press
from reedwright.page.settings import PAPERS, SIDE_MARGIN, PageSettings
from reedwright.page.valvedrawing import (
    EDGE,
    Drawing,
    bar_drawing,
    plate_drawing,
    stacked,
    strip_drawing,
)
from reedwright.workshop.cautions import SHORT_CAUTION
from reedwright.workshop.valving.advice import STEPS, VALVE_CAUTIONS
from reedwright.workshop.valving.effects import effect_words, valve_effects
from reedwright.workshop.valving.model import ValvePlan
from reedwright.workshop.valving.packing import STRIP_WIDTH, Strip, pack
from reedwright.workshop.valving.text import (
    origin_words,
    pitch_words,
    reed_words,
    summary_words,
)

TEMPLATE = HERE / "templates" / "cutting-sheet.typ"
TOP_MARGIN, BOTTOM_MARGIN = 14.0, 15.0  # mm


def write_cutting_sheet(
    plan: ValvePlan, path: Path, paper: str = "a4", strip_width: float = STRIP_WIDTH
) -> None:
    """Write the sheet as a PDF. `strip_width`: of the valve material, mm.

    Raises `NotTypeset`, `NotWritten`, `ValveError` for material too narrow for a valve, and
    `ReedwrightError` for a paper that there is not.
    """
    write_whole(path, cutting_sheet_pdf(plan, paper, strip_width))


def cutting_sheet_pdf(
    plan: ValvePlan, paper: str = "a4", strip_width: float = STRIP_WIDTH
) -> bytes:
    """The sheet as PDF/UA-1, the same bytes for the same plan, paper and width."""
    return Press(TEMPLATE).typeset(sheet_data(plan, PageSettings(paper=paper), strip_width))


def cutting_sheet_svg(plan: ValvePlan, strip_width: float = STRIP_WIDTH) -> str:
    """The check bars and all strips as one SVG at true size. Raises `ValveError`."""
    drawings = [("Check before you cut", bar_drawing())]
    drawings += [(_strip_heading(strip), strip_drawing(strip)) for strip in pack(plan, strip_width)]
    return stacked(drawings, f"Valves for the {plan.harp.name} at true size.")


def sheet_data(plan: ValvePlan, settings: PageSettings, strip_width: float) -> dict[str, object]:
    """What the template is given, JSON-ready."""
    room = settings.size[0] - 2 * SIDE_MARGIN
    printable = room - 2 * EDGE
    width = min(strip_width, printable)
    strips = pack(plan, width)
    title = f"Valves for the {plan.harp.name}"
    return {
        "title": title,
        "description": f"{title}: a cutting sheet at true size.",
        "paper": PAPERS[settings.paper][0],
        "margins": {"side": SIDE_MARGIN, "top": TOP_MARGIN, "bottom": BOTTOM_MARGIN},
        "summary": summary_words(plan),
        "bars": _drawn(bar_drawing()),
        "strip_words": f"Material {width:g} mm wide"
        + (
            ""
            if width == strip_width
            else f" (yours, of {strip_width:g} mm, does not fit the page)"
        ),
        "strips": [
            {"heading": _strip_heading(strip)} | _drawn(strip_drawing(strip)) for strip in strips
        ],
        "steps": list(STEPS),
        "notes": list(plan.notes),
        "plates": [
            {
                "heading": _plate_heading(plate),
                **_drawn(plate_drawing(plan, plate, room - 2 * EDGE)),
            }
            for plate in Breath
            if plan.of_plate(plate)
        ],
        "valves": _rows(plan),
        "effects": [
            {"where": effect.valve.name, "what": effect_words(effect, plan.harp)}
            for effect in valve_effects(plan)
        ],
        "cautions": [*VALVE_CAUTIONS, SHORT_CAUTION],
        "pitches": pitch_words(plan),
    }


def _drawn(drawing: Drawing) -> dict[str, object]:
    """Never rounded: the width is what makes it true."""
    return {"svg": drawing.svg, "width": drawing.width, "alt": drawing.words}


def _strip_heading(strip: Strip) -> str:
    return _plate_heading(strip.plate)


def _plate_heading(plate: Breath) -> str:
    side = "outside, under the cover" if plate is Breath.BLOW else "inside, facing the comb"
    return f"{plate.value.capitalize()} plate, {side}"


def _rows(plan: ValvePlan) -> list[dict[str, object]]:
    """The list of valves: texts as they are printed."""
    slots = {slot.reed: slot for slot in plan.slots}
    return [
        {
            "name": valve.name,
            "isolates": reed_words(valve.isolates),
            "side": "inside" if valve.inside else "outside",
            "length": f"{valve.length:.1f}",
            "width": f"{valve.width:.1f}",
            "pad": f"{valve.pad:.1f}",
            "slot": f"{slots[valve.slot].length:.1f} × {slots[valve.slot].width:.1f}",
            "origin": origin_words(valve),
            "notes": list(valve.notes),
        }
        for valve in plan.valves
    ]
