"""The cutting sheet: every valve of a plan at true size, where it goes, and what it changes.

PDF/UA-1 by Typst (templates/cutting-sheet.typ). Drawings are placed at the size in mm that they
have (`valvedrawing`), so what is measured on the paper is what the plan says, if the printer does
not scale; two bars on the sheet tell.

Public: `write_cutting_sheet`, `cutting_sheet_pdf`, `cutting_sheet_svg`.
"""

from __future__ import annotations

from pathlib import Path

from reedwright.files import write_whole
from reedwright.harp.cautions import SHORT_CAUTION
from reedwright.harp.model import Breath
from reedwright.page.content import signs_in_print
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
from reedwright.workshop.valving.advice import STEPS, VALVE_CAUTIONS
from reedwright.workshop.valving.effects import effect_words, valve_effects
from reedwright.workshop.valving.model import RivetEnd, ValveError, ValvePlan
from reedwright.workshop.valving.packing import STRIP_WIDTH, Strip, pack
from reedwright.workshop.valving.text import (
    origin_words,
    pitch_words,
    reed_words,
    summary_words,
    valve_notes,
)

TEMPLATE = HERE / "templates" / "cutting-sheet.typ"
TOP_MARGIN, BOTTOM_MARGIN = 14.0, 15.0  # mm
STRIP_GUTTER = 5.0  # mm between strips side by side


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
    """The check bars and all strips as one SVG at true size, `strip_width` in mm.

    Raises `ValveError` where there is nothing to cut or the material is too narrow.
    """
    strips = _strips(plan, strip_width)
    drawings = [("Check the size first", bar_drawing())]
    drawings += zip(_strip_headings(strips), map(strip_drawing, strips), strict=True)
    return stacked(drawings, f"Valves for the {signs_in_print(plan.harp.name)} at true size.")


def sheet_data(plan: ValvePlan, settings: PageSettings, strip_width: float) -> dict[str, object]:
    """What the template is given, JSON-ready."""
    room = settings.size[0] - 2 * SIDE_MARGIN - 2 * EDGE  # for a drawing, without its edges
    width = min(strip_width, room)
    strips = _strips(plan, width)
    material = f"The material is {width:g} mm wide"
    if width < strip_width:
        material += f" here; yours, of {strip_width:g} mm, would not fit the page"
    title = f"Valves for the {signs_in_print(plan.harp.name)}"
    return {
        "title": title,
        "description": f"{title}: a cutting sheet at true size.",
        "paper": PAPERS[settings.paper][0],
        "margins": {"side": SIDE_MARGIN, "top": TOP_MARGIN, "bottom": BOTTOM_MARGIN},
        "summary": summary_words(plan),
        "bars": _drawn(bar_drawing()),
        "material": f"{material}.",
        "strips": [
            {"heading": heading, **_drawn(strip_drawing(strip))}
            for heading, strip in zip(_strip_headings(strips), strips, strict=True)
        ],
        "columns": int((room + 2 * EDGE + STRIP_GUTTER) // (width + 2 * EDGE + STRIP_GUTTER)),
        "gutter": STRIP_GUTTER,
        "print": STEPS[0],
        "steps": list(STEPS[1:]),
        "notes": [signs_in_print(note) for note in plan.notes],
        "plates": [
            {"heading": _plate_heading(plan, plate), **_drawn(plate_drawing(plan, plate, room))}
            for plate in Breath
            if plan.of_plate(plate)
        ],
        "crossed": any(not valve.fits for valve in plan.valves),
        "valves": _rows(plan),
        "valve_notes": [{"which": which, "note": note} for which, note in valve_notes(plan)],
        "effects": [
            {"name": effect.valve.name, "what": signs_in_print(effect_words(effect, plan.harp))}
            for effect in valve_effects(plan)
        ],
        "pitches": signs_in_print(pitch_words(plan)),
        "cautions": [*VALVE_CAUTIONS, SHORT_CAUTION],
    }


def _strips(plan: ValvePlan, strip_width: float) -> tuple[Strip, ...]:
    strips = pack(plan, strip_width)
    if not strips:
        why = "no valve fits its slot" if plan.valves else "no reed is to be valved"
        hint = "measure the slots again" if plan.valves else "name some, such as half, or blow 1-6"
        raise ValveError(f"{plan.harp.name}: there is nothing to cut, since {why}; {hint}")
    return strips


def _drawn(drawing: Drawing) -> dict[str, object]:
    """Never rounded: the width is what makes it true."""
    return {"svg": drawing.svg, "width": drawing.width, "alt": drawing.words}


def _strip_headings(strips: tuple[Strip, ...]) -> list[str]:
    """`Blow plate, outside, strip 1 of 2`."""
    headings = []
    for plate in Breath:
        count = sum(strip.plate is plate for strip in strips)
        for number in range(1, count + 1):
            more = f", strip {number} of {count}" if count > 1 else ""
            headings.append(f"{_side(plate)}{more}")
    return headings


def _side(plate: Breath) -> str:
    return f"{plate.value.capitalize()} plate, {'outside' if plate is Breath.BLOW else 'inside'}"


def _plate_heading(plan: ValvePlan, plate: Breath) -> str:
    where = "under the cover" if plate is Breath.BLOW else "facing the comb"
    end = "mouthpiece" if plan.plates.rivets(plate) is RivetEnd.FRONT else "back"
    known = "" if f"{plate.value}_rivets" in plan.plates.told else " (from memory: check yours)"
    return f"{_side(plate)}, {where}; rivets at the {end}{known}"


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
        }
        for valve in plan.valves
    ]
