"""The frontier of a tuning search as a drawing: what each further reed saves, and what it asks.

One column for each number of reeds changed. In it lie the layouts that no other beats: the higher,
the more effort a note they save; the farther right, the more of what the hands know is changed.
The filled diamond is the easiest of its column, circles are others that take less to relearn. Below
stand the tunes playable with no bends: a grey bar for the easiest layout, a hatched one for the
layout that has the most of them. Letters lead to the list below. Nothing is told by colour.

Public: `frontier_svg`, `frontier_alt`.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil, floor, log10
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from reedwright.page import svgmarks
from reedwright.page.harpchart import DEFAULT_FONT
from reedwright.tab.words import counted, listed, number_word
from reedwright.workshop.search.model import Found, SearchResult, layout_words

WIDTH_MM = 174.0
PIXELS_PER_MM = 96 / 25.4

# Sizes in CSS pixels (96 to the inch); 10 are 7.5 points.
TITLE, LABEL, SMALL = 15.0, 11.5, 10.5
LEFT, RIGHT = 52.0, 8.0
HEAD = 40.0  # the title, and the names of the columns
SAVED = 220.0  # height of the upper panel
AXIS = 40.0  # numbers and name of its horizontal axis
BARS = 86.0  # height of the lower panel
FOOT = 14.0
ROW = 17.0  # of the list
NONE_WIDTH = 46.0  # of the column for no reed at all
COLUMN_GAP = 10.0
INNER = 13.0  # room for signs at a column's edges
BAR_WIDTH = 22.0
DIAMOND, CIRCLE = 5.4, 3.4
LETTER_ROOM = 20.0  # pixels, across or up, between two signs that both bear a letter

INK, QUIET, HAIR, PALE = "#000000", "#4d4d4d", "#b5b5b5", "#d4d4d4"
MOST_LETTERED = 3  # layouts of one column
_PERCENT = 100.0
_EM_A_LETTER = 0.46  # about the mean width of a letter, em of the text font
_TICKS = 4  # about as many on an axis


class _Column(NamedTuple):
    """Where one number of reeds is drawn: edges of the column, and the frontier's layouts."""

    reeds: int
    left: float
    right: float
    rows: tuple[Found, ...]


class _Scale(NamedTuple):
    """From numbers to pixels, `low` at `start` and `high` at `end`."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, number: float) -> float:
        share = (number - self.low) / (self.high - self.low)
        return self.start + share * (self.end - self.start)


def frontier_svg(
    result: SearchResult,
    title: str = "",
    width_mm: float = WIDTH_MM,
    font: str = DEFAULT_FONT,
) -> str:
    """The drawing as an SVG document `width_mm` wide. `title`: the line above, if any."""
    width = width_mm * PIXELS_PER_MM
    columns = _columns(result, width)
    shares = _PERCENT * max((row.score.relearned for row in result.frontier), default=0.0)
    saved = [result.base.effort - row.score.effort for row in result.frontier]
    ticks = _ticks(max(saved, default=0.0))
    top, bottom = HEAD, HEAD + SAVED
    up = _Scale(0.0, max(ticks[-1], max(saved, default=0.0)), bottom - INNER, top + INNER + 8.0)
    lettered = _lettered(result, columns, up, shares)
    bars = bottom + AXIS + BARS
    lines = sum(len(_lines(row, width)) for _, row in lettered)
    height = bars + FOOT + ROW * (lines + 1) + 8.0
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.2f}" height="{height:.2f}" '
        f'viewBox="0 0 {width:.2f} {height:.2f}" role="img" font-family={quoteattr(font)}>',
        "<title>Reeds changed against effort saved</title>",
        f"<desc>{escape(frontier_alt(result))}</desc>",
    ]
    if title:
        out.append(svgmarks.text(2.0, 14.0, title, TITLE, "start", "bold"))
    out += _saved_axis(columns, ticks, up, top, bottom)
    for column in columns:
        across = _across(column, shares)
        out += _ground(column, across, shares, top, bottom)
        out += _signs(result, column, across, up, lettered)
    middle = (columns[1].left + columns[-1].right) / 2
    out.append(svgmarks.text(middle, bottom + 28.0, "% of the notes to relearn", LABEL, "middle"))
    out += _bars(result, columns, bottom + AXIS, bars)
    out += _list(result, lettered, bars + FOOT, width)
    out.append("</svg>")
    return "\n".join(out) + "\n"


def frontier_alt(result: SearchResult) -> str:
    """The drawing in words, for those who hear the page."""
    base, count = result.base, len(result.titles)
    said = [
        f"Of {counted(count, 'tune')} {base.plain} need no bends on the tuning as it is, at "
        f"{base.effort:.2f} effort a note."
    ]
    for rows in result.best:
        if not rows:
            continue
        easiest = rows[0]
        reeds = counted(len(easiest.layout), "reed", number=number_word)
        said.append(
            f"With {reeds} changed the easiest is {layout_words(easiest.layout)}: it saves "
            f"{base.effort - easiest.score.effort:.2f} a note, {easiest.score.plain} tunes need "
            f"no bends, {_PERCENT * easiest.score.relearned:.0f} per cent of the notes are to be "
            "relearned."
        )
    return " ".join(said)


def _columns(result: SearchResult, width: float) -> list[_Column]:
    most = max(len(result.best), 1)
    each = (width - LEFT - RIGHT - NONE_WIDTH - most * COLUMN_GAP) / most
    found = [_Column(0, LEFT, LEFT + NONE_WIDTH, _of(result, 0))]
    left = LEFT + NONE_WIDTH + COLUMN_GAP
    for reeds in range(1, most + 1):
        found.append(_Column(reeds, left, left + each, _of(result, reeds)))
        left += each + COLUMN_GAP
    return found


def _of(result: SearchResult, reeds: int) -> tuple[Found, ...]:
    """The frontier's layouts with that many reeds changed, easiest first."""
    return tuple(row for row in result.frontier if len(row.layout) == reeds)


def _lettered(
    result: SearchResult, columns: Sequence[_Column], up: _Scale, shares: float
) -> list[tuple[str, Found]]:
    """The layouts that bear a letter: of each column the easiest, and others well apart."""
    chosen: list[Found] = []
    for column in columns[1:]:
        across = _across(column, shares)
        places: list[tuple[float, float]] = []
        for row in column.rows:
            x = across(_PERCENT * row.score.relearned)
            y = up(result.base.effort - row.score.effort)
            apart = all(
                max(abs(x - other_x), abs(y - other_y)) >= LETTER_ROOM
                for other_x, other_y in places
            )
            if apart and len(places) < MOST_LETTERED:
                places.append((x, y))
                chosen.append(row)
    return [(_letter(number), row) for number, row in enumerate(chosen)]


def _across(column: _Column, shares: float) -> _Scale:
    """From per cent to relearn to pixels, the same in every column."""
    return _Scale(0.0, max(shares, 1e-9), column.left + INNER, column.right - INNER)


def _letter(number: int) -> str:
    letter = chr(ord("A") + number % 26)
    return letter if number < 26 else letter + str(number // 26)


def _ticks(most: float) -> list[float]:
    """Round numbers from 0 up to `most` or a little beyond."""
    if most <= 0:
        return [0.0, 1.0]
    rough = most / _TICKS
    size = 10.0 ** floor(log10(rough))
    step = next(size * by for by in (1, 2, 5, 10) if size * by >= rough * (1 - 1e-9))
    return [step * k for k in range(ceil(most / step - 1e-9) + 1)]


def _saved_axis(
    columns: Sequence[_Column], ticks: Sequence[float], up: _Scale, top: float, bottom: float
) -> list[str]:
    """Numbers on the left, and a hair line through all columns for each."""
    out = []
    step = ticks[1] - ticks[0]
    places = max(0, -floor(log10(step) + 1e-9))
    right = columns[-1].right
    for tick in ticks:
        y = up(tick)
        if y < top:
            continue
        out.append(svgmarks.line(columns[0].left, y, right, y, HAIR, 0.5))
        out.append(
            svgmarks.text(columns[0].left - 6.0, y + 3.8, f"{tick:.{places}f}", LABEL, "end")
        )
    middle = (top + bottom) / 2
    name = "effort saved a note"
    out.append(
        f'<text x="{12.0:.2f}" y="{middle:.2f}" font-size="{LABEL:g}" text-anchor="middle" '
        f'fill="{INK}" transform="rotate(-90 12 {middle:.2f})">{name}</text>'
    )
    return out


def _ground(column: _Column, across: _Scale, shares: float, top: float, bottom: float) -> list[str]:
    """The column's frame and name, and the numbers of what is to be relearned."""
    out = [
        f'<rect x="{column.left:.2f}" y="{top:.2f}" width="{column.right - column.left:.2f}" '
        f'height="{bottom - top:.2f}" fill="none" stroke="{QUIET}" stroke-width="0.7"/>',
        svgmarks.text(
            (column.left + column.right) / 2,
            top - 6.0,
            counted(column.reeds, "reed", number=number_word) if column.reeds else "as it is",
            LABEL,
            "middle",
            "bold",
        ),
    ]
    if not column.reeds:
        return out
    for share in _ticks(shares):
        x = across(share)
        if share > shares * (1 + 1e-9) or x > column.right:
            continue
        out.append(svgmarks.line(x, bottom, x, bottom + 3.5, INK, 0.7))
        out.append(svgmarks.text(x, bottom + 14.0, f"{share:g}", SMALL, "middle"))
    return out


def _signs(
    result: SearchResult,
    column: _Column,
    across: _Scale,
    up: _Scale,
    lettered: Sequence[tuple[str, Found]],
) -> list[str]:
    """The layouts of one column, joined by steps, with their letters."""
    places = [
        (
            (column.left + column.right) / 2
            if not column.reeds
            else across(_PERCENT * row.score.relearned),
            up(result.base.effort - row.score.effort),
            row,
        )
        for row in column.rows
    ]
    out = []
    if len(places) > 1:
        steps = f"M {places[0][0]:.2f} {places[0][1]:.2f}" + "".join(
            f" V {y:.2f} H {x:.2f}" for x, y, _ in places[1:]
        )
        out.append(f'<path d="{steps}" fill="none" stroke="{QUIET}" stroke-width="0.7"/>')
    letters = {id(row): letter for letter, row in lettered}
    for number, (x, y, row) in reversed(list(enumerate(places))):
        out.append(_diamond(x, y) if number == 0 else _circle(x, y))
        if id(row) in letters:
            out.append(_letter_sign(x, y - 8.0, letters[id(row)]))
    return out


def _bars(result: SearchResult, columns: Sequence[_Column], top: float, foot: float) -> list[str]:
    """Tunes with no bends: as it is, of the easiest layout, of the one that has the most."""
    counts: list[tuple[_Column, list[tuple[int, str]]]] = [
        (columns[0], [(result.base.plain, PALE)])
    ]
    for column, easiest, plainest in zip(columns[1:], result.best, result.plainest, strict=False):
        if easiest:
            mine = [(easiest[0].score.plain, PALE), (plainest[0].score.plain, "hatched")]
            counts.append((column, mine))
    most = max((number for _, each in counts for number, _ in each), default=0)
    up = _Scale(0.0, max(most, 1), foot, top + 26.0)
    out = [
        svgmarks.line(LEFT, foot, columns[-1].right, foot, INK, 0.8),
        svgmarks.text(LEFT - 6.0, foot - 18.0, "tunes", LABEL, "end"),
        svgmarks.text(LEFT - 6.0, foot - 4.0, "with no", LABEL, "end"),
        svgmarks.text(LEFT - 6.0, foot + 10.0, "bends", LABEL, "end"),
    ]
    for column, each in counts:
        gap = 10.0
        wide = len(each) * BAR_WIDTH + (len(each) - 1) * gap
        x = (column.left + column.right - wide) / 2
        for number, fill in each:
            y = up(number)
            out += _bar(x, y, foot - y, fill)
            out.append(svgmarks.text(x + BAR_WIDTH / 2, y - 4.0, str(number), SMALL, "middle"))
            x += BAR_WIDTH + gap
    return out


def _bar(x: float, y: float, height: float, fill: str) -> list[str]:
    """One bar; a hatched one is white with slanting strokes."""
    hatched = fill == "hatched"
    out = [
        f'<rect x="{x:.2f}" y="{y:.2f}" width="{BAR_WIDTH:g}" height="{height:.2f}" '
        f'fill="{"#ffffff" if hatched else fill}" stroke="{INK}" stroke-width="0.8"/>'
    ]
    if hatched:
        strokes = []
        step, rise = 6.0, 8.0
        at = y + height - 1.0
        while at - rise > y:
            strokes.append(f"M{x + 1:.2f} {at:.2f}l{BAR_WIDTH - 2:.2f} {-rise:g}")
            at -= step
        if strokes:
            out.append(f'<path d="{"".join(strokes)}" stroke="{INK}" stroke-width="0.8"/>')
    return out


def _list(
    result: SearchResult, lettered: Sequence[tuple[str, Found]], top: float, width: float
) -> list[str]:
    """What the signs and bars mean, and the layouts by letter."""
    y = top + ROW
    out: list[str] = []
    x = 4.0
    for sign, words in (
        (_diamond(6.0, -4.0), "easiest"),
        (_circle(6.0, -4.0), "less to relearn, none easier for that"),
        ("".join(_bar(-5.0, -10.0, 11.0, PALE)), "of the easiest"),
        ("".join(_bar(-5.0, -10.0, 11.0, "hatched")), "of the layout that has the most"),
    ):
        out.append(f'<g transform="translate({x:.2f} {y:.2f})">{sign}</g>')
        out.append(svgmarks.text(x + 22.0, y, words, SMALL, "start"))
        x += 22.0 + len(words) * SMALL * _EM_A_LETTER + 22.0
    for letter, row in lettered:
        out.append(svgmarks.text(4.0, y + ROW, letter, LABEL, "start", "bold"))
        for line in _lines(row, width):
            y += ROW
            out.append(svgmarks.text(24.0, y, line, LABEL, "start"))
    return out


def _lines(row: Found, width: float) -> list[str]:
    """What is told of a layout: in one line, or in two where that would be too long."""
    score = row.score
    turned = listed(
        [
            f"{len(indexes)} {verb}"
            for indexes, verb in ((row.won, "won"), (row.lost, "lost"))
            if indexes
        ]
    )
    name = f"{layout_words(row.layout)}:"
    rest = (
        f"effort {score.effort:.2f} a note, {counted(score.plain, 'tune')} with no bends"
        f"{f' ({turned})' if turned else ''}, {_PERCENT * score.relearned:.1f} % to relearn"
    )
    whole = f"{name} {rest}"
    return [whole] if len(whole) * LABEL * _EM_A_LETTER <= width - 28.0 else [name, rest]


def _diamond(x: float, y: float) -> str:
    d = DIAMOND
    return (
        f'<path class="easiest" d="M {x - d:.2f} {y:.2f} l {d} {-d} l {d} {d} l {-d} {d} Z" '
        f'fill="{INK}"/>'
    )


def _circle(x: float, y: float) -> str:
    return (
        f'<circle class="other" cx="{x:.2f}" cy="{y:.2f}" r="{CIRCLE}" fill="#ffffff" '
        f'stroke="{INK}" stroke-width="1.1"/>'
    )


def _letter_sign(x: float, y: float, letter: str) -> str:
    """A letter with white about it, as a line may run behind it."""
    return (
        f'<text class="letter" x="{x:.2f}" y="{y:.2f}" font-size="{LABEL:g}" font-weight="bold" '
        f'text-anchor="middle" fill="{INK}" stroke="#ffffff" stroke-width="3" '
        f'paint-order="stroke">{letter}</text>'
    )
