"""The harp chart as a drawing: every note of every hole, and the tune's own notes brought out.

The row of hole numbers is the comb. Blow notes stand above it and draw notes below;
outward from each follow, smaller, what the hole gives besides: with the slide in,
bent (a prime for each semitone), overblown or overdrawn (a small circle, in a dashed
cell). Where counts are given, notes of the tune have a heavy frame, a bold name and, under
it, how often they are played; rows without such notes are lower, and their names quiet.
Where it is asked for, a small wave in the corner of a reed says that it takes vibrato, three
dots that it is breathy. Nothing is told by colour alone, so the chart survives a
black-and-white printer.

Public: `chart_svg`, `chart_width`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

from reedwright.harp.expression import expression_of
from reedwright.harp.layout import note_name
from reedwright.harp.model import Breath, Harp, Reed, Sounding, Technique

DEFAULT_FONT = "Libertinus Serif"

# Sizes in CSS pixels (96 to the inch) at the drawing's own size.
CELL_WIDTH = 52.0
REED_HEIGHT = 36.0
EXTRA_HEIGHT = 29.0
COUNTED_HEIGHT = 43.0  # of a row with counts
QUIET_HEIGHT = 24.0  # of a row that the tune does not use
COMB_HEIGHT = 31.0
GAP = 3.0
LABEL_WIDTH, SLIDE_LABEL_WIDTH = 42.0, 58.0
MARGIN = 4.0
TITLE_HEIGHT = 28.0
LEGEND_LINE = 19.0

# A lesson page sets the chart at 0.72 of this or more, where the smallest is still 7.5 points.
REED_SIZE, EXTRA_SIZE, COUNT_SIZE, HOLE_SIZE = 19.0, 15.5, 14.2, 18.0
TITLE_SIZE, LABEL_SIZE, LEGEND_SIZE = 18.0, 14.5, 14.2

INK, QUIET, HAIR, COMB = "#000000", "#595959", "#9a9a9a", "#e4e4e4"
THIN, HEAVY = 0.7, 2.2

SIGN_WIDTH = 9.5  # of the signs for vibrato and breathiness
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
    expression: bool = False,
) -> str:
    """The chart as an SVG document.

    Parameters
    ----------
    harp: what is drawn; note names follow its key.
    counts: how often the tune plays each sounding; None draws a plain chart.
    font: family for all text.
    title: the line above, the harp's name unless given; "" for none.
    legend: whether to explain the marks that occur.
    expression: whether to mark the reeds that take vibrato and those that are breathy.
    """
    stacks = _stacks(harp)
    blow, draw = (_row_heights(stacks, breath.value, counts) for breath in Breath)
    above, below = sum(blow), sum(draw)
    heading = _harp_in_words(harp) if title is None else title
    top = MARGIN + (TITLE_HEIGHT if heading else 0.0)
    comb = top + above + GAP
    left = MARGIN + (SLIDE_LABEL_WIDTH if harp.tuning.slide else LABEL_WIDTH)
    holes = harp.tuning.holes
    width = left + holes * CELL_WIDTH + MARGIN
    bottom = comb + COMB_HEIGHT + GAP + below
    notes = _legend(harp, counts) if legend else []
    signs = _expression_signs(harp) if legend and expression else []
    told = len(notes) + bool(signs)
    height = bottom + MARGIN + (6.0 + LEGEND_LINE * told if told else 0.0)

    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:g}" height="{height:g}" '
        f'viewBox="0 0 {width:g} {height:g}" role="img" font-family={quoteattr(font)}>',
        f"<title>{escape('Chart of the ' + harp.name)}</title>",
        f"<desc>{escape(_description(harp, counts, expression))}</desc>",
    ]
    if heading:
        out.append(_text(MARGIN, MARGIN + 17.0, heading, TITLE_SIZE, weight="bold", anchor="start"))
    out += _comb(holes, left, comb)
    for name, y in (
        ("Blow", comb - GAP - blow[0] / 2),
        ("Draw", comb + COMB_HEIGHT + GAP + draw[0] / 2),
    ):
        out.append(_text(left - 9.0, y + 4.5, name, LABEL_SIZE, anchor="end"))
    out.append(_text(left - 9.0, comb + COMB_HEIGHT / 2 + 4.5, "Hole", LABEL_SIZE, anchor="end"))
    if harp.tuning.slide:
        for y in (
            comb - GAP - blow[0] - blow[1] / 2,
            comb + COMB_HEIGHT + GAP + draw[0] + draw[1] / 2,
        ):
            out.append(_text(left - 9.0, y + 4.5, "slide in", LABEL_SIZE, anchor="end"))
    for (hole, breath), stack in stacks.items():
        x = left + (hole - 1) * CELL_WIDTH
        y = comb - GAP if breath == "blow" else comb + COMB_HEIGHT + GAP
        for sounding, size in zip(stack, blow if breath == "blow" else draw, strict=False):
            if breath == "blow":
                y -= size
            cell = _Cell(sounding, x + GAP / 2, y + GAP / 2, size - GAP)
            out += _cell(cell, harp, None if counts is None else counts.get(sounding, 0))
            if expression and _reed_note(sounding):
                out += _expression_mark(cell, harp)
            if breath == "draw":
                y += size
    for index, line in enumerate(notes):
        y = bottom + 6.0 + LEGEND_LINE * (index + 0.75)
        out.append(_text(left + GAP / 2, y, line, LEGEND_SIZE, anchor="start"))
    x, y = left + GAP / 2, bottom + 6.0 + LEGEND_LINE * (len(notes) + 0.75)
    for draw_sign, words, room in signs:
        out += draw_sign(x + 1.0, y - 4.5)
        out.append(_text(x + SIGN_WIDTH + 6.0, y, words, LEGEND_SIZE, anchor="start"))
        x += room
    out.append("</svg>")
    return "\n".join(out) + "\n"


def chart_width(svg: str) -> float:
    """The width of a chart at its own size, mm (96 pixels to the inch)."""
    found = _WIDTH.search(svg)
    assert found is not None  # of a drawing of ours
    return float(found[1]) * 25.4 / 96


_WIDTH = re.compile(r'<svg [^>]*?width="([\d.]+)"')


def _stacks(harp: Harp) -> dict[tuple[int, str], list[Sounding]]:
    """For each hole and breath its soundings, outward from the comb."""
    stacks: dict[tuple[int, str], list[Sounding]] = {}
    for sounding in harp.soundings:
        stacks.setdefault((sounding.hole, sounding.breath.value), []).append(sounding)
    for stack in stacks.values():
        stack.sort(key=lambda s: (s.technique in _MARKS, s.bend, s.slide))
    return stacks


def _reed_note(sounding: Sounding) -> bool:
    return sounding.technique is Technique.NATURAL and not sounding.slide


def _row_heights(
    stacks: Mapping[tuple[int, str], list[Sounding]],
    breath: str,
    counts: Mapping[Sounding, int] | None,
) -> list[float]:
    """The heights of the rows on one side of the comb, outward from it."""
    rows: list[float] = []
    for (_, side), stack in stacks.items():
        for level, sounding in enumerate(stack if side == breath else ()):
            if counts is None:
                height = EXTRA_HEIGHT if level else REED_HEIGHT
            elif counts.get(sounding):
                height = COUNTED_HEIGHT
            else:
                height = QUIET_HEIGHT if level else REED_HEIGHT
            rows[level : level + 1] = [max([height, *rows[level : level + 1]])]
    return rows


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
    reed = _reed_note(sounding)
    used = bool(count)
    name = _pretty(note_name(sounding.midi, harp, octave=False))
    marks = "′" * sounding.bend + _MARKS.get(sounding.technique, "") + "<" * sounding.slide
    stroke = INK if used else HAIR
    dash = ' stroke-dasharray="2.5 2"' if sounding.technique in _MARKS else ""
    # A heavy frame grows inward, so that neighbours never touch.
    inset = (HEAVY if used else THIN) / 2
    width = CELL_WIDTH - GAP
    out = [
        f'<rect x="{cell.x + inset:g}" y="{cell.y + inset:g}" '
        f'width="{width - 2 * inset:g}" height="{cell.height - 2 * inset:g}" rx="3" '
        f'fill="none" stroke="{stroke}" stroke-width="{2 * inset:g}"{dash}/>'
    ]
    size = REED_SIZE if reed else EXTRA_SIZE
    weight = "bold" if used or (reed and count is None) else "normal"
    colour = INK if used or count is None else QUIET
    centre, middle = cell.x + width / 2, cell.y + cell.height / 2
    base = cell.y + 0.86 * size + 2.6 if used else middle + size * 0.33
    if reed and Reed(sounding.hole, sounding.breath) in harp.isolated and not _full(harp):
        corner = cell.x + width - 4.5, cell.y + 11.0
        out.append(_text(*corner, VALVE_MARK, COUNT_SIZE, "normal", "end", colour))
    if used:
        foot = cell.y + cell.height - 5.0
        out.append(_text(centre, foot, str(count), COUNT_SIZE, "normal", fill=colour))
    if weight == "bold" and len(name + marks) > 1:
        # Few bold text fonts have sharps and flats, and a fallback font would take the
        # weight from the whole name: so letter and sign meet back to back.
        signs = name[1:] + marks
        seam = centre + size * (0.36 - sum(map(_sign_width, signs)) / 2)
        out.append(_text(seam, base, name[0], size, weight, "end", colour))
        out.append(_text(seam + 0.5, base, signs, size, "normal", "start", colour))
    else:
        out.append(_text(centre, base, name + marks, size, weight, fill=colour))
    return out


def _expression_mark(cell: _Cell, harp: Harp) -> list[str]:
    """The sign in the lower left corner of a reed, where neither name nor count reaches."""
    allows = expression_of(harp, cell.sounding)
    x, y = cell.x + 4.0, cell.y + cell.height - 7.0
    if allows.vibrato:
        return _wave(x, y)
    return _dots(x, y) if allows.breathy else []


def _wave(x: float, y: float) -> list[str]:
    """Takes vibrato: two swings about `y`."""
    half = SIGN_WIDTH / 4
    return [
        f'<path d="M{x:g} {y:g}q{half / 2:g} -4.6 {half:g} 0t{half:g} 0t{half:g} 0'
        f't{half:g} 0" fill="none" stroke="{INK}" stroke-width="1.1" stroke-linecap="round"/>'
    ]


def _dots(x: float, y: float) -> list[str]:
    """Breathy: three dots."""
    radius = 1.2
    first, step = x + radius, SIGN_WIDTH / 2 - radius
    return [
        f'<circle cx="{first + k * step:g}" cy="{y:g}" r="{radius:g}" fill="{INK}"/>'
        for k in range(3)
    ]


_Sign = Callable[[float, float], list[str]]


def _expression_signs(harp: Harp) -> list[tuple[_Sign, str, float]]:
    """The signs that occur: how each is drawn, what it means, and the room for both."""
    allowed = [expression_of(harp, each) for each in harp.soundings if _reed_note(each)]
    signs: list[tuple[_Sign, str, float]] = []
    if any(each.vibrato for each in allowed):
        signs.append((_wave, "takes vibrato, as all bends do", 235.0))
    if any(each.breathy for each in allowed):
        signs.append((_dots, "breathy", 100.0))
    return signs


def _sign_width(sign: str) -> float:
    """About the width of a sign beside a note's name, em of the text font."""
    return 0.24 if sign == "′" else 0.5


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
        lines.append("Heavy frame: a note of this tune, and how many times it is played")
    return lines


def _description(
    harp: Harp, counts: Mapping[Sounding, int] | None, expression: bool = False
) -> str:
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
    if expression:
        reeds_allow = [(s, expression_of(harp, s)) for s in harp.soundings if _reed_note(s)]
        for words, having in (
            ("Vibrato", [s for s, allows in reeds_allow if allows.vibrato]),
            ("Breathy", [s for s, allows in reeds_allow if allows.breathy]),
        ):
            if having:
                parts.append(f"{words}: {', '.join(f'{s.hole} {s.breath.value}' for s in having)}.")
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
