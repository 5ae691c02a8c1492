"""Pictures of the bench sheet: where a reed is worked on, and which slots valves cover.

Public: `work_svg`, `plates_svg`, `plates_words`.
"""

from __future__ import annotations

from collections.abc import Iterable

from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.page.content import Drawing
from reedwright.workshop.conversion.model import Work
from reedwright.workshop.valving.model import Valve, ValvePlan

INK, QUIET, PALE = "#000000", "#595959", "#e4e4e4"
FONT = "Libertinus Serif"

# A reed from above, in tenths of a millimetre on paper: rivet on the left, free end on the right.
SIGN_WIDTH, SIGN_HEIGHT = 15.0, 3.6  # mm
_REED = (34.0, 140.0, 12.0, 24.0)  # left, right, top, bottom
_WORKED = 30.0  # length of the part that is marked
_MARKED_ENDS: dict[Work, tuple[bool, bool]] = {  # at the rivet, at the free end
    Work.RAISE: (False, True),
    Work.LOWER: (True, False),
    Work.TOUCH: (False, False),
    Work.SWAP: (False, False),
}


def work_svg(work: Work) -> str:
    """A small reed with its rivet; strokes cross it where metal comes off.

    A reed to be swapped is dashed all round; one to be touched up is plain.
    """
    left, right, top, bottom = _REED
    dash = ' stroke-dasharray="7 5"' if work is Work.SWAP else ""
    middle = (top + bottom) / 2
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{SIGN_WIDTH}mm" '
        f'height="{SIGN_HEIGHT}mm" viewBox="0 0 {SIGN_WIDTH * 10:g} {SIGN_HEIGHT * 10:g}">',
        f'<rect x="4" y="{top - 7:g}" width="30" height="{bottom - top + 14:g}" rx="3" '
        f'fill="#ffffff" stroke="{INK}" stroke-width="2.2"{dash}/>',
        f'<circle cx="19" cy="{middle:g}" r="6.5" fill="{INK}"/>',
        f'<rect x="{left:g}" y="{top:g}" width="{right - left:g}" height="{bottom - top:g}" '
        f'fill="#ffffff" stroke="{INK}" stroke-width="2.2"{dash}/>',
    ]
    at_rivet, at_tip = _MARKED_ENDS[work]
    starts = [left] * at_rivet + [right - _WORKED] * at_tip
    for start in starts:
        out += [
            f'<path d="M{start + 3 + k * 8:g} {bottom + 5:g}l5 {top - bottom - 10:g}" '
            f'stroke="{INK}" stroke-width="2.4" fill="none"/>'
            for k in range(4)
        ]
    out.append("</svg>")
    return "\n".join(out) + "\n"


# The plates, in CSS pixels (96 to the inch). Slots get shorter from hole to hole, as on a harp;
# how much is drawn for the eye and is no measure.
CELL = 52.0
PLATE_HEIGHT, LONGEST, SHORTEST = 104.0, 84.0, 50.0
SLOT_WIDTH = 17.0
LABEL_WIDTH, MARGIN, ROW_GAP, HOLE_ROW = 104.0, 3.0, 7.0, 22.0
TEXT_SIZE, SMALL_SIZE = 16.0, 14.0


def plates_svg(plan: ValvePlan) -> Drawing:
    """Both plates with their slots; a valve lies over its slot, hatched.

    Above the row of hole numbers the blow plate, below it the draw plate. Words on the left say
    on which side of the plate its valves lie. The width is that of the drawing itself, mm.
    """
    harp = plan.harp
    holes = harp.tuning.holes
    width = LABEL_WIDTH + holes * CELL + 2 * MARGIN
    height = 2 * (PLATE_HEIGHT + ROW_GAP) + HOLE_ROW + 2 * MARGIN
    covered = {valve.slot: valve for valve in plan.valves if valve.fits}
    middle = MARGIN + PLATE_HEIGHT + ROW_GAP
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" role="img" font-family="{FONT}">',
        f"<title>Valves of the {_escaped(harp.name)}</title>",
        f"<desc>{_escaped(plates_words(plan))}</desc>",
    ]
    for breath, top in ((Breath.BLOW, MARGIN), (Breath.DRAW, middle + HOLE_ROW + ROW_GAP)):
        out += _plate(harp, breath, top, covered)
    for hole in range(1, holes + 1):
        out.append(_text(_centre(hole), middle + 16.5, str(hole), TEXT_SIZE, bold=True))
    out.append(_text(LABEL_WIDTH - 10, middle + 16.5, "Hole", SMALL_SIZE, anchor="end"))
    out.append("</svg>")
    return Drawing("\n".join(out) + "\n", width * 25.4 / 96, plates_words(plan))


def plates_words(plan: ValvePlan) -> str:
    """The picture in words: `Blow plate, inside: valves over holes 7, 8, 9 and 10.`"""
    said = []
    for breath in Breath:
        valves = [valve for valve in plan.valves if valve.plate is breath and valve.fits]
        if not valves:
            said.append(f"{breath.value.capitalize()} plate: no valves.")
            continue
        for inside in (True, False):
            holes = [str(valve.slot.hole) for valve in valves if valve.inside is inside]
            if holes:
                where = _side(inside)
                said.append(
                    f"{breath.value.capitalize()} plate, {where}: valves over the slots of "
                    f"holes {', '.join(holes)}."
                )
    return " ".join(said)


def _side(inside: bool) -> str:
    return "inside" if inside else "outside"


def _sides(valves: Iterable[Valve]) -> str:
    """Where the valves of one plate lie, in a word or two; nothing where there are none."""
    sides = {valve.inside for valve in valves}
    return " and ".join(_side(inside) for inside in (True, False) if inside in sides)


def _plate(harp: Harp, breath: Breath, top: float, covered: dict[Reed, Valve]) -> list[str]:
    holes = harp.tuning.holes
    valves = [valve for valve in covered.values() if valve.plate is breath]
    left = LABEL_WIDTH + MARGIN
    out = [
        f'<rect x="{left:g}" y="{top:g}" width="{holes * CELL:g}" height="{PLATE_HEIGHT:g}" '
        f'rx="5" fill="#ffffff" stroke="{INK}" stroke-width="1.2"/>',
        _text(
            LABEL_WIDTH - 10,
            top + PLATE_HEIGHT / 2 - 3,
            f"{breath.value.capitalize()} plate",
            TEXT_SIZE,
            anchor="end",
            bold=True,
        ),
        _text(
            LABEL_WIDTH - 10,
            top + PLATE_HEIGHT / 2 + 15,
            f"valves {_sides(valves)}" if valves else "no valves",
            SMALL_SIZE,
            anchor="end",
        ),
    ]
    for hole in range(1, holes + 1):
        reed = Reed(hole, breath)
        step = (LONGEST - SHORTEST) / max(holes - 1, 1)
        length = LONGEST - (hole - 1) * step
        # The ends towards the mouth stand in one line: that of the hole numbers.
        near = top + PLATE_HEIGHT - 8 if breath is Breath.BLOW else top + 8
        y = near - length if breath is Breath.BLOW else near
        x = _centre(hole) - SLOT_WIDTH / 2
        out.append(
            f'<rect x="{x:g}" y="{y:g}" width="{SLOT_WIDTH:g}" height="{length:g}" rx="1.5" '
            f'fill="#ffffff" stroke="{INK}" stroke-width="1"/>'
        )
        if reed in covered:
            out += _hatched(x - 3.5, y - 3, SLOT_WIDTH + 7, length + 6)
        else:
            name = note_name(harp.reed_midi(hole, breath), harp, octave=False)
            shown = name[0] + name[1:].replace("#", "♯").replace("b", "♭")
            out.append(_text(_centre(hole), y + length / 2 + 4.5, shown, SMALL_SIZE, fill=QUIET))
    return out


HATCH_STEP = 6.0


def _hatched(x: float, y: float, width: float, height: float) -> list[str]:
    """A valve: a grey strip with slanting strokes and a heavy outline."""
    out = [
        f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="2.5" '
        f'fill="{PALE}" stroke="{INK}" stroke-width="2"/>'
    ]
    rise = width * 0.6
    strokes = []
    start = y + rise + 3
    while start < y + height - 2:
        strokes.append(f"M{x + 1.5:g} {start:g}l{width - 3:g} {-rise:g}")
        start += HATCH_STEP
    out.append(f'<path d="{"".join(strokes)}" stroke="{INK}" stroke-width="0.9" fill="none"/>')
    return out


def _centre(hole: int) -> float:
    return LABEL_WIDTH + MARGIN + (hole - 0.5) * CELL


def _text(
    x: float,
    y: float,
    content: str,
    size: float,
    anchor: str = "middle",
    bold: bool = False,
    fill: str = INK,
) -> str:
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" text-anchor="{anchor}"{weight} '
        f'fill="{fill}">{_escaped(content)}</text>'
    )


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
