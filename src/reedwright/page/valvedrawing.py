"""Drawings for the cutting sheet: strips of valves at true size, check bars, and the two plates.

Every drawing is an SVG whose user unit is one millimetre, so that what is given in mm is drawn
in mm. Outlines to cut along are the only lines of width `CUT_LINE`. Nothing is told by colour:
a pad is hatched, a strip's edge dashed.

Public: `Drawing`, `strip_drawing`, `bar_drawing`, `plate_drawing`, `stacked`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple
from xml.sax.saxutils import escape

from reedwright.harp.model import Breath
from reedwright.workshop.valving.model import RivetEnd, Slot, Valve, ValvePlan
from reedwright.workshop.valving.packing import Strip

FONT = "Libertinus Serif"
# Lines, mm.
CUT_LINE, HATCH_LINE, EDGE_LINE, SLOT_LINE, BAR_LINE = 0.12, 0.09, 0.1, 0.18, 0.2
HATCH_STEP = 0.7  # mm between hatching lines, along the valve
POINT = 25.4 / 72  # mm
LABEL, SMALL = 7.2 * POINT, 8.0 * POINT  # type, mm
LETTER = 0.5  # mean width of a letter, of its size
CAPITAL = 0.65  # height of capitals and digits of the font, of its size
EDGE = 0.5  # mm around a drawing, so that its outermost line is not cut
MM_BAR, INCH_BAR = 50.0, 50.8  # mm: 2 inches are 50.8 mm (ISO 31, the international inch)
BAR_HEIGHT, TICK = 3.4, 2.0
BAR_ROOM = 15.0  # for the words beside a bar
# The plates, mm at true size. Only slots, valves and hole spacing are to scale.
PLATE_SCALE = 1.5  # to true size, where there is room
PLATE_MARGIN = 6.0
PLATE_EDGE = 2.6  # from the rivets' end and the longest slot's tip to the plate's edges
RIVET = 0.9  # radius


class Drawing(NamedTuple):
    """An SVG with its size in mm, and what it shows in words."""

    svg: str
    width: float
    height: float
    words: str


def strip_drawing(strip: Strip) -> Drawing:
    """One strip of material at true size, with the valves to be cut from it."""
    parts = [_rect(0, 0, strip.width, strip.height, EDGE_LINE, dash="1.2 0.9", colour="#555")]
    for valve, x, y in strip.placed:
        parts += _valve(valve, x, y, 1.0, pad_up=False, line=CUT_LINE)
        free = valve.length - valve.pad
        # A very short one bears its hole only; the strip's heading says the plate.
        room = (free - LABEL / 4) / (LETTER * LABEL)
        name = valve.name if len(valve.name) <= room else str(valve.slot.hole)
        parts.append(
            _text(name, x + valve.width / 2, y + free / 2, LABEL, turned=True, weight="semibold")
        )
    listed = ", ".join(
        f"hole {valve.slot.hole} {valve.length:.1f} by {valve.width:.1f} mm"
        for valve, _, _ in strip.placed
    )
    words = f"Valves for the {strip.plate.value} plate at true size, side by side: {listed}."
    return _drawing(parts, strip.width, strip.height, words)


def bar_drawing() -> Drawing:
    """Two bars to lay a ruler on: 50 mm and 2 inches, one below the other."""
    parts = []
    for row, (length, ticks, name) in enumerate(
        ((MM_BAR, 5, "50 mm"), (INCH_BAR, 4, "2 inches")),
    ):
        y = row * (BAR_HEIGHT + 2.0)
        path = [f"M0 {_n(y)}V{_n(y + BAR_HEIGHT)}", f"M{_n(length)} {_n(y)}V{_n(y + BAR_HEIGHT)}"]
        path.append(f"M0 {_n(y + BAR_HEIGHT)}H{_n(length)}")
        path += [
            f"M{_n(length * k / ticks)} {_n(y + BAR_HEIGHT)}v{_n(-TICK)}" for k in range(1, ticks)
        ]
        parts.append(_path("".join(path), BAR_LINE))
        parts.append(_text(name, length + 2.0, y + BAR_HEIGHT, SMALL, anchor="start", middle=False))
    words = "Two bars to measure with a ruler: 50 millimetres and 2 inches (50.8 millimetres) long."
    return _drawing(parts, INCH_BAR + BAR_ROOM, 2 * BAR_HEIGHT + 2.0, words)


def plate_drawing(
    plan: ValvePlan, plate: Breath, width: float, most: float = PLATE_SCALE
) -> Drawing:
    """One plate with its slots and valves, as large as `width` mm and `most` times allow.

    The harp lies as it is played, mouthpiece towards the reader: the blow plate shows its
    outside, the draw plate, the comb taken off, its inside. So hole 1 is left on both.
    """
    slots = [slot for slot in plan.slots if slot.reed.breath is plate]
    valves = {valve.slot: valve for valve in plan.of_plate(plate)}
    pitch, gap = plan.plates.hole_pitch, plan.plates.rivet_gap
    scale = min(most, width / (pitch * len(slots) + 2 * PLATE_MARGIN))
    front = plan.plates.rivets(plate) is RivetEnd.FRONT
    longest = max(slot.length for slot in slots)
    wide = (pitch * len(slots) + 2 * PLATE_MARGIN) * scale
    high = (longest + gap + 2 * RIVET + 2 * PLATE_EDGE) * scale
    # The line at which all slots of a plate begin, at the rivet end.
    from_edge = (PLATE_EDGE + 2 * RIVET + gap) * scale
    root = high - from_edge if front else from_edge
    top = 5.0
    parts = [_rect(0, top, wide, high, SLOT_LINE)]
    for slot in slots:
        middle = (PLATE_MARGIN + pitch * (slot.reed.hole - 0.5)) * scale
        parts += _slot(slot, valves.get(slot.reed), middle, top + root, scale, front, gap)
        parts.append(_text(str(slot.reed.hole), middle, top + high + 3.4, SMALL, middle=False))
    parts.append(_text("back", wide / 2, top - 1.6, SMALL, middle=False, style="italic"))
    parts.append(
        _text("mouthpiece", wide / 2, top + high + 7.2, SMALL, middle=False, style="italic")
    )
    holes = " ".join(str(reed.hole) for reed, valve in valves.items() if valve.fits)
    covered = f"valves over the slots of holes {holes}" if holes else "no valves"
    side = "outside" if plate is Breath.BLOW else "inside"
    words = (
        f"The {plate.value} plate seen from its {side}, hole 1 at the left and the mouthpiece "
        f"towards you: {covered}; reeds riveted at the "
        f"{'mouthpiece' if front else 'back'}."
    )
    return _drawing(parts, wide, top + high + 8.4, words)


def stacked(drawings: Iterable[tuple[str, Drawing]], title: str) -> str:
    """One SVG of several drawings below each other, each with a heading, at true size."""
    parts = []
    y, widest = 2.0, 0.0
    for heading, drawing in drawings:
        parts.append(_text(heading, 0, y + SMALL, SMALL * 1.2, anchor="start", middle=False))
        y += SMALL + 2.6
        inner = drawing.svg[drawing.svg.index(">") + 1 : drawing.svg.rindex("</svg>")]
        parts.append(f'<g transform="translate({_n(EDGE)} {_n(y + EDGE)})">{inner}</g>')
        y += drawing.height + 5.0
        widest = max(widest, drawing.width)
    return _drawing(parts, widest, y, title).svg


def _slot(
    slot: Slot,
    valve: Valve | None,
    middle: float,
    root: float,
    scale: float,
    front: bool,
    gap: float,
) -> list[str]:
    """A slot, its rivet and its valve, crossed where none fits.

    The slot begins at `root` and runs up from there where rivets are in front, else down.
    """
    length, width = slot.length * scale, slot.width * scale
    top = root - length if front else root
    covered = valve is not None and valve.fits
    dash = "0.7 0.5" if covered else ""  # hidden under the valve
    parts = []
    rivet_y = root + (gap + RIVET) * scale * (1 if front else -1)
    parts.append(
        f'<circle cx="{_n(middle)}" cy="{_n(rivet_y)}" r="{_n(RIVET * scale)}" fill="none" '
        f'stroke="#000" stroke-width="{SLOT_LINE}"/>'
    )
    if valve is not None and covered:
        # The pad starts at the slot's end and reaches towards the rivet.
        start = root + valve.pad * scale if front else root - valve.pad * scale
        y = start - valve.length * scale if front else start
        parts += _valve(
            valve,
            middle - valve.width * scale / 2,
            y,
            scale,
            pad_up=not front,
            line=0.35,
            fill="#ececec",
        )
    left = middle - width / 2
    parts.append(_rect(left, top, width, length, SLOT_LINE, dash=dash))
    if valve is not None and not covered:
        across = f"M{_n(left)} {_n(top)}l{_n(width)} {_n(length)}"
        parts.append(_path(f"{across}M{_n(left + width)} {_n(top)}l{_n(-width)} {_n(length)}", 0.3))
    return parts


def _valve(
    valve: Valve,
    x: float,
    y: float,
    scale: float,
    pad_up: bool,
    line: float,
    fill: str = "none",
) -> list[str]:
    """A valve's outline with its pad hatched at the upper or the lower end."""
    width, length, pad = valve.width * scale, valve.length * scale, valve.pad * scale
    pad_top = y if pad_up else y + length - pad
    inner = pad_top + pad if pad_up else pad_top
    return [
        _rect(x, y, width, length, line, fill=fill),
        _path(_hatching(x, pad_top, width, pad), HATCH_LINE),
        _path(f"M{_n(x)} {_n(inner)}h{_n(width)}", HATCH_LINE),
    ]


def _hatching(x: float, y: float, width: float, height: float) -> str:
    """Lines at 45 degrees, clipped to a rectangle by their equations."""
    path = []
    offset = HATCH_STEP
    while offset < width + height - HATCH_STEP / 4:
        # The line of all points whose distances from the left and the lower edge sum up so.
        x1, y1 = max(0.0, offset - height), min(height, offset)
        x2, y2 = min(width, offset), max(0.0, offset - width)
        path.append(f"M{_n(x + x1)} {_n(y + y1)}L{_n(x + x2)} {_n(y + y2)}")
        offset += HATCH_STEP
    return "".join(path)


def _drawing(parts: list[str], width: float, height: float, words: str) -> Drawing:
    wide, high = round(width + 2 * EDGE, 3), round(height + 2 * EDGE, 3)
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_n(wide)}mm" height="{_n(high)}mm" '
        f'viewBox="{-EDGE} {-EDGE} {_n(wide)} {_n(high)}" font-family="{FONT}">'
        f"<title>{escape(words)}</title>{''.join(parts)}</svg>"
    )
    return Drawing(svg, wide, high, words)


def _rect(
    x: float,
    y: float,
    width: float,
    height: float,
    line: float,
    dash: str = "",
    fill: str = "none",
    colour: str = "#000",
) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<rect x="{_n(x)}" y="{_n(y)}" width="{_n(width)}" height="{_n(height)}" fill="{fill}" '
        f'stroke="{colour}" stroke-width="{line}"{dashed}/>'
    )


def _path(path: str, line: float) -> str:
    return f'<path d="{path}" fill="none" stroke="#000" stroke-width="{line}"/>'


def _text(
    text: str,
    x: float,
    y: float,
    size: float,
    anchor: str = "middle",
    middle: bool = True,
    turned: bool = False,
    weight: str = "normal",
    style: str = "normal",
) -> str:
    """Text with its baseline at `y`, or its middle there; `turned`: reading upwards."""
    drop = size * CAPITAL / 2 if middle else 0.0
    place = f'x="{_n(x)}" y="{_n(y + drop)}"'
    if turned:
        place = f'transform="translate({_n(x + drop)} {_n(y)}) rotate(-90)"'
    bold = ' font-weight="600"' if weight == "semibold" else ""
    slanted = ' font-style="italic"' if style == "italic" else ""
    return (
        f'<text {place} font-size="{size:.3f}" text-anchor="{anchor}"{bold}{slanted}>'
        f"{escape(text)}</text>"
    )


def _n(number: float) -> str:
    """Thousandths of a millimetre are more than a knife knows."""
    return f"{number:.3f}".rstrip("0").rstrip(".") if number else "0"
