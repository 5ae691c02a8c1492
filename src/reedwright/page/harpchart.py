"""The harp chart as a drawing: every note of every hole, and the tune's own notes brought out.

The row of hole numbers is the comb. Blow notes stand above it and draw notes below;
outward from each follow, smaller, what the hole gives besides: with the slide in,
bent (a prime for each semitone), overblown or overdrawn (a small circle, in a dashed
cell). Where counts are given, notes of the tune have a heavy frame, a bold name and a number.
Nothing is told by colour alone, so the chart survives a black-and-white printer.

Public: `chart_svg`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath, Harp, Reed, Sounding, Technique

DEFAULT_FONT = "Libertinus Serif"

# Sizes in CSS pixels (96 to the inch) at the drawing's own size.
CELL_WIDTH = 52.0
REED_HEIGHT = 36.0
EXTRA_HEIGHT = 29.0
COMB_HEIGHT = 31.0
GAP = 3.0
LABEL_WIDTH = 60.0
MARGIN = 4.0
TITLE_HEIGHT = 28.0
LEGEND_LINE = 19.0

# A lesson page sets the chart at about 0.7 of this, where the smallest is still 6 points.
REED_SIZE, EXTRA_SIZE, COUNT_SIZE, HOLE_SIZE = 18.0, 15.0, 11.5, 17.0
TITLE_SIZE, LABEL_SIZE, LEGEND_SIZE = 18.0, 14.5, 14.0

INK, QUIET, HAIR, COMB = "#000000", "#595959", "#9a9a9a", "#e4e4e4"
THIN, HEAVY = 0.7, 2.2

VALVE_MARK = "v"
_MARKS = {Technique.OVERBLOW: "°", Technique.OVERDRAW: "°"}


@dataclass(frozen=True, slots=True)
class _Cell:
    """One note in its place; `y` is the cell's top."""

    sounding: Sounding
    x: float
    y: float
    height: float


def chart_svg(
    harp: Harp,
    counts: Mapping[Sounding, int] | None = None,
    font: str = DEFAULT_FONT,
    title: str | None = None,
    legend: bool = True,
) -> str:
    """The chart as an SVG document.

    Parameters
    ----------
    harp: what is drawn; note names follow its key.
    counts: how often the tune plays each sounding; None draws a plain chart.
    font: family for all text.
    title: the line above, the harp's name unless given; "" for none.
    legend: whether to explain the marks that occur.
    """
    stacks = _stacks(harp)
    above = max(_stack_height(stack) for (_, breath), stack in stacks.items() if breath == "blow")
    below = max(_stack_height(stack) for (_, breath), stack in stacks.items() if breath == "draw")
    heading = _harp_in_words(harp) if title is None else title
    top = MARGIN + (TITLE_HEIGHT if heading else 0.0)
    comb = top + above + GAP
    left = MARGIN + LABEL_WIDTH
    holes = harp.tuning.holes
    width = left + holes * CELL_WIDTH + MARGIN
    bottom = comb + COMB_HEIGHT + GAP + below
    notes = _legend(harp, counts) if legend else []
    height = bottom + MARGIN + (6.0 + LEGEND_LINE * len(notes) if notes else 0.0)

    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" role="img" font-family={quoteattr(font)}>',
        f"<title>{escape('Chart of the ' + harp.name)}</title>",
        f"<desc>{escape(_description(harp, counts))}</desc>",
    ]
    if heading:
        out.append(_text(MARGIN, MARGIN + 17.0, heading, TITLE_SIZE, weight="bold", anchor="start"))
    out += _comb(holes, left, comb)
    for name, y in (("Blow", comb - GAP - REED_HEIGHT), ("Draw", comb + COMB_HEIGHT + GAP)):
        out.append(_text(left - 9.0, y + REED_HEIGHT / 2 + 4.5, name, LABEL_SIZE, anchor="end"))
    out.append(_text(left - 9.0, comb + COMB_HEIGHT / 2 + 4.5, "Hole", LABEL_SIZE, anchor="end"))
    if harp.tuning.slide:
        reach = GAP + REED_HEIGHT + EXTRA_HEIGHT / 2
        for y in (comb - reach, comb + COMB_HEIGHT + reach):
            out.append(_text(left - 9.0, y + 4.5, "slide in", LABEL_SIZE, anchor="end"))
    for (hole, breath), stack in stacks.items():
        x = left + (hole - 1) * CELL_WIDTH
        y = comb - GAP if breath == "blow" else comb + COMB_HEIGHT + GAP
        for sounding in stack:
            size = _height(sounding)
            if breath == "blow":
                y -= size
            cell = _Cell(sounding, x + GAP / 2, y + GAP / 2, size - GAP)
            out += _cell(cell, harp, None if counts is None else counts.get(sounding, 0))
            if breath == "draw":
                y += size
    for index, line in enumerate(notes):
        y = bottom + 6.0 + LEGEND_LINE * (index + 0.75)
        out.append(_text(left + GAP / 2, y, line, LEGEND_SIZE, anchor="start"))
    out.append("</svg>")
    return "\n".join(out) + "\n"


def _stacks(harp: Harp) -> dict[tuple[int, str], list[Sounding]]:
    """For each hole and breath its soundings, outward from the comb."""
    stacks: dict[tuple[int, str], list[Sounding]] = {}
    for sounding in harp.soundings:
        stacks.setdefault((sounding.hole, sounding.breath.value), []).append(sounding)
    for stack in stacks.values():
        stack.sort(key=lambda s: (s.technique in _MARKS, s.bend, s.slide))
    return stacks


def _height(sounding: Sounding) -> float:
    plain = sounding.technique is Technique.NATURAL and not sounding.slide
    return REED_HEIGHT if plain else EXTRA_HEIGHT


def _stack_height(stack: list[Sounding]) -> float:
    return sum(map(_height, stack))


def _comb(holes: int, left: float, y: float) -> list[str]:
    """The strip of hole numbers: one long body with a square mouth for each hole."""
    out = [
        f'<rect x="{left + GAP / 2:g}" y="{y:g}" width="{holes * CELL_WIDTH - GAP:g}" '
        f'height="{COMB_HEIGHT:g}" rx="4" fill="{COMB}" stroke="{INK}" stroke-width="1"/>'
    ]
    for hole in range(1, holes + 1):
        x = left + (hole - 1) * CELL_WIDTH
        out.append(
            f'<rect x="{x + 11:g}" y="{y + 4:g}" width="{CELL_WIDTH - 22:g}" '
            f'height="{COMB_HEIGHT - 8:g}" rx="2" fill="#ffffff" stroke="{INK}" '
            f'stroke-width="{THIN}"/>'
        )
        middle = x + CELL_WIDTH / 2, y + COMB_HEIGHT / 2 + 5.5
        out.append(_text(*middle, str(hole), HOLE_SIZE, weight="bold"))
    return out


def _cell(cell: _Cell, harp: Harp, count: int | None) -> list[str]:
    sounding = cell.sounding
    reed = _height(sounding) == REED_HEIGHT
    used = bool(count)
    over = sounding.technique in _MARKS
    name = _pretty(note_name(sounding.midi, harp, octave=False))
    marks = "′" * sounding.bend + _MARKS.get(sounding.technique, "") + "<" * sounding.slide
    stroke = INK if used else HAIR
    dash = ' stroke-dasharray="2.5 2"' if over else ""
    # A heavy frame grows inward, so that neighbours never touch.
    inset = (HEAVY if used else THIN) / 2
    width = CELL_WIDTH - GAP
    out = [
        f'<rect x="{cell.x + inset:g}" y="{cell.y + inset:g}" '
        f'width="{width - 2 * inset:g}" height="{cell.height - 2 * inset:g}" rx="3" '
        f'fill="none" stroke="{stroke}" stroke-width="{2 * inset:g}"{dash}/>'
    ]
    size = REED_SIZE if reed else EXTRA_SIZE
    if used and len(name + marks) > 4:
        size = 0.86 * EXTRA_SIZE  # a name such as that of a bend of three semitones, and its number
    weight = "bold" if used or (reed and count is None) else "normal"
    colour = INK if used or count is None else QUIET
    base = cell.y + cell.height / 2 + size * 0.33
    if reed and Reed(sounding.hole, sounding.breath) in harp.isolated and not _full(harp):
        corner = cell.x + width - 4.5, cell.y + 10.0
        out.append(_text(*corner, VALVE_MARK, COUNT_SIZE, "normal", "end", colour))
    middle = cell.y + cell.height / 2
    if count:
        roomy = count < 100 and len(name + marks) < 4
        number = f"{count}×" if roomy else str(count)
        right = cell.x + width - 4.0
        out.append(_text(right, middle + 3.9, number, COUNT_SIZE, "normal", "end", colour))
    if weight == "bold" and len(name) > 1:
        # Few bold text fonts have sharps and flats, and a fallback font would take the
        # weight from the whole name: so letter and sign meet back to back.
        seam = cell.x + (3.5 + 0.77 * size if used else width / 2 + 0.16 * size)
        out.append(_text(seam, base, name[0], size, weight, "end", colour))
        out.append(_text(seam + 0.5, base, name[1:] + marks, size, "normal", "start", colour))
    elif used:
        out.append(_text(cell.x + 4.5, base, name + marks, size, weight, "start", colour))
    else:
        out.append(_text(cell.x + width / 2, base, name + marks, size, weight, fill=colour))
    return out


def _legend(harp: Harp, counts: Mapping[Sounding, int] | None) -> list[str]:
    """Only the marks that occur on this harp, in whole words."""
    techniques = {sounding.technique for sounding in harp.soundings}
    marks = []
    if techniques & {Technique.BEND, Technique.VALVED_BEND}:
        marks.append("′ bent, a semitone for each mark")
    if techniques & set(_MARKS):
        marks.append("° overblow or overdraw")
    if harp.tuning.slide:
        marks.append("< slide in")
    if _full(harp):
        marks.append("every reed valved: bends alone")
    elif harp.isolated:
        marks.append(f"{VALVE_MARK} valved reed, bends alone")
    lines = ["    ".join(marks)] if marks else []
    if counts is not None:
        lines.append("Heavy frame: a note of this tune, with how often it is played")
    return lines


def _description(harp: Harp, counts: Mapping[Sounding, int] | None) -> str:
    """The chart in words, for those who hear the page."""
    parts = []
    for breath in Breath:
        reeds = [
            f"{hole} {_pretty(note_name(harp.reed_midi(hole, breath), harp))}"
            for hole in range(1, harp.tuning.holes + 1)
        ]
        parts.append(f"{breath.value.capitalize()}: {', '.join(reeds)}.")
    if counts is not None:
        used = [
            f"{sounding.hole} {sounding.breath.value} {sounding.technique.value} {times} times"
            for sounding, times in sorted(counts.items())
            if times
        ]
        parts.append(f"The tune plays {', '.join(used)}.")
    return " ".join(parts)


def _full(harp: Harp) -> bool:
    """Whether every reed is valved, so that marking each would say nothing."""
    return len(harp.isolated) == 2 * harp.tuning.holes


def _harp_in_words(harp: Harp) -> str:
    """`B flat harp`: the sign has no bold letter-form in most fonts, so words do."""
    spoken = harp.key.replace("#", " sharp").replace("b", " flat")
    return harp.name.replace(f"{harp.key} harp", f"{spoken} harp")


def _pretty(name: str) -> str:
    return name[0] + name[1:].replace("#", "♯").replace("b", "♭")


def _text(
    x: float,
    y: float,
    content: str,
    size: float,
    weight: str = "normal",
    anchor: str = "middle",
    fill: str = INK,
) -> str:
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" font-weight="{weight}" '
        f'text-anchor="{anchor}" fill="{fill}" xml:space="preserve">{escape(content)}</text>'
    )
