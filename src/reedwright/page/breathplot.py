"""The breath account as a drawing to stand under the tune: how full the lungs are, bar by bar.

Time runs in the bars as played, so that several speeds can stand under each other and share the
bar numbers. The grey band is comfortable; a dashed line marks where a player must breathe, and
what lies beyond it is filled with black. A comma above is a breath, a cross a breath in
place of a note. Nothing is told by colour alone.

Public: `breath_svg`, `breath_alt`.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple
from xml.sax.saxutils import escape, quoteattr

from reedwright.page import svgmarks
from reedwright.page.harpchart import DEFAULT_FONT
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.account import BreathAccount, Moment
from reedwright.tab.breath.model import BreathReason
from reedwright.tab.breath.plan import BreathPlan
from reedwright.tab.breath.words import speed_words
from reedwright.tab.words import bars_text, counted
from reedwright.tune.form import find_parts
from reedwright.tune.unfold import Performance, unfold

WIDTH_MM = 174.0
PIXELS_PER_MM = 96 / 25.4

# Sizes in CSS pixels (96 to the inch); 10 are 7.5 points.
LABEL, SMALL = 11.5, 10.5
LEFT, RIGHT = 58.0, 6.0
TOP = 20.0  # part letters
MARKS = 13.0  # the row of breaths above a panel
TITLE = 16.0  # the row that names the speed, where there are several
BOTTOM = 18.0  # bar numbers
LEGEND = 19.0
GAP = 9.0  # between panels
LITRE = 25.0  # height of one litre
HIGHEST = 130.0  # of a panel; more litres stand closer

INK, QUIET, HAIR, BAND = "#000000", "#4d4d4d", "#8c8c8c", "#e6e6e6"
_MOST_ROOM = 1.15  # of `most_litres`: what a panel shows beyond the limit
_NUMBER_ROOM = 22.0  # pixels that a bar number wants
_EM_A_LETTER = 0.46  # about the mean width of a letter, em of the text font


class _Panel(NamedTuple):
    """Where one account is drawn. `top` and `bottom` are edges of the plot, `zero` the middle of
    the lungs; `litre` is the height of one."""

    plan: BreathPlan
    top: float
    bottom: float
    zero: float
    litre: float


class _Across(NamedTuple):
    """From quarter notes to pixels."""

    left: float
    width: float
    quarters: float

    def __call__(self, place: float) -> float:
        return self.left + self.width * (place / self.quarters if self.quarters else 0.0)


def breath_svg(
    arrangement: Arrangement,
    plans: Sequence[BreathPlan],
    width_mm: float = WIDTH_MM,
    font: str = DEFAULT_FONT,
    legend: bool = True,
    performance: Performance | None = None,
) -> str:
    """One panel for each plan, as an SVG document `width_mm` wide.

    Parameters
    ----------
    plans: of this arrangement, as `plan_breaths` or `practice_breaths` give them.
    font: family for all text.
    legend: whether a line below explains the signs that occur.
    performance: the arrangement's tune played out, where the caller has it already.
    """
    if performance is None:
        performance = unfold(arrangement.tune, arrangement.voice)
    width = width_mm * PIXELS_PER_MM
    across = _Across(LEFT, width - LEFT - RIGHT, float(performance.length))
    panels: list[_Panel] = []
    y = TOP
    for plan in plans:
        y += MARKS + (TITLE if len(plans) > 1 else 0.0)
        high, low = _reach(plan.account)
        litre = min(LITRE, HIGHEST / (high - low))
        panels.append(_Panel(plan, y, y + (high - low) * litre, y + high * litre, litre))
        y = panels[-1].bottom + GAP
    foot = (panels[-1].bottom if panels else TOP) + BOTTOM
    explained, explaining = _legend_lines(_legend(plans) if legend else [], foot, across)
    height = foot + explaining
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.2f}" height="{height:.2f}" '
        f'viewBox="0 0 {width:.2f} {height:.2f}" role="img" font-family={quoteattr(font)}>',
        f"<title>{escape('The breath account of ' + arrangement.tune.title)}</title>",
        f"<desc>{escape(breath_alt(arrangement, plans))}</desc>",
    ]
    for panel in panels:
        out += _ground(panel, across)
    out += _parts(performance, panels, across)
    for panel in panels:
        out += _level(panel, across)
        out += _names(panel, across)
        out += _breaths(panel, across)
        if len(panels) > 1:
            out.append(_title(panel))
    if panels:
        out += _bars(performance, panels[-1].bottom, across)
    out += explained
    out.append("</svg>")
    return "\n".join(out) + "\n"


def breath_alt(arrangement: Arrangement, plans: Sequence[BreathPlan]) -> str:
    """The drawing in words, for those who hear the page."""
    sentences = []
    for plan in plans:
        account = plan.account
        text = (
            f"{speed_words(plan.speed).capitalize()} the level of air lies between "
            f"{_litres_words(account.lowest)} and {_litres_words(account.highest)}"
        )
        if plan.marks:
            bars = bars_text(mark.bar for mark in plan.marks)
            text += f", with {counted(len(plan.marks), 'breath')} in {bars}"
        else:
            text += ", with no extra breath"
        sentences.append(text + ".")
        if plan.trouble:
            bars = bars_text(passing.bar for passing in plan.trouble)
            sentences.append(f"It passes the limit from {bars} on.")
    return " ".join(sentences)


def _litres_words(level: float) -> str:
    size = f"{abs(level):.1f}"
    if size == "0.0":
        return "the middle"
    return f"{size} litres {'above' if level > 0 else 'below'} it"


def _reach(account: BreathAccount) -> tuple[float, float]:
    """The highest and lowest litre of a panel: comfort at least, the limit where it is near."""
    comfortable, most = account.lungs.comfortable_litres, account.lungs.most_litres
    edge = comfortable * 1.12
    near = most * _MOST_ROOM
    high = near if account.highest > comfortable else edge
    low = -near if account.lowest < -comfortable else -edge
    return max(high, account.highest * 1.05), min(low, account.lowest * 1.05)


def _y(panel: _Panel, litres: float) -> float:
    return panel.zero - litres * panel.litre


def _ground(panel: _Panel, across: _Across) -> list[str]:
    """The comfortable band, the middle, and the limits that are in sight."""
    lungs = panel.plan.account.lungs
    left, right = across.left, across.left + across.width
    top = max(_y(panel, lungs.comfortable_litres), panel.top)
    bottom = min(_y(panel, -lungs.comfortable_litres), panel.bottom)
    out = [
        f'<rect x="{left:.2f}" y="{top:.2f}" width="{across.width:.2f}" '
        f'height="{bottom - top:.2f}" fill="{BAND}"/>',
        svgmarks.line(left, _y(panel, 0.0), right, _y(panel, 0.0), HAIR, 0.6),
    ]
    for limit in (lungs.most_litres, -lungs.most_litres):
        y = _y(panel, limit)
        if panel.top <= y <= panel.bottom:
            out.append(svgmarks.line(left, y, right, y, INK, 0.7, "4 3"))
    return out


def _names(panel: _Panel, across: _Across) -> list[str]:
    lungs = panel.plan.account.lungs
    out = []
    for litres, name in (
        (lungs.most_litres, "full"),
        (0.0, "middle"),
        (-lungs.most_litres, "empty"),
    ):
        y = _y(panel, litres)
        if panel.top <= y <= panel.bottom:
            out.append(svgmarks.text(across.left - 7.0, y + 3.6, name, LABEL, "end"))
    return out


def _title(panel: _Panel) -> str:
    account = panel.plan.account
    name = speed_words(account.speed).capitalize()
    seconds = counted(round(account.seconds), "second")
    return svgmarks.text(LEFT, panel.top - MARKS - 4.0, f"{name}, {seconds}", LABEL, "start")


def _level(panel: _Panel, across: _Across) -> list[str]:
    account = panel.plan.account
    points = [(across(m.quarters), _y(panel, m.litres)) for m in account.moments]
    out = []
    for full in (True, False):
        limit = account.lungs.most_litres if full else -account.lungs.most_litres
        for stretch in _beyond(account.moments, limit):
            corners = [(across(q), _y(panel, litres)) for q, litres in stretch]
            out.append(f'<path d="{_path(corners)} Z" fill="{INK}"/>')
    out.append(
        f'<path d="{_path(_thinned(points))}" fill="none" stroke="{INK}" stroke-width="1.5" '
        f'stroke-linejoin="round" stroke-linecap="round"/>'
    )
    return out


def _beyond(moments: Sequence[Moment], limit: float) -> list[list[tuple[float, float]]]:
    """The areas between the level and a limit that it passes, as (quarters, litres)."""
    side = 1.0 if limit > 0 else -1.0
    found: list[list[tuple[float, float]]] = []
    inside = True
    for one, two in pairwise(moments):
        a, b = side * one.litres - abs(limit), side * two.litres - abs(limit)
        if a <= 0 < b:
            share = -a / (b - a)
            found.append([(one.quarters + share * (two.quarters - one.quarters), limit)])
            inside = False
        if b > 0 and not inside:
            found[-1].append((two.quarters, two.litres))
        elif a > 0 >= b and not inside:
            share = a / (a - b)
            found[-1].append((one.quarters + share * (two.quarters - one.quarters), limit))
            inside = True
    if found and not inside:
        found[-1].append((moments[-1].quarters, limit))
    return found


def _thinned(points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
    """Without the points that lie on a straight line, to keep the drawing small."""
    kept: list[tuple[float, float]] = []
    for point in points:
        while len(kept) > 1:
            (ax, ay), (bx, by) = kept[-2:]
            cx, cy = point
            if abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) > 0.02 * max(cx - ax, 1e-9):
                break
            kept.pop()
        kept.append(point)
    return kept


def _path(points: Sequence[tuple[float, float]]) -> str:
    return "M " + " L ".join(f"{x:.2f} {y:.2f}" for x, y in points)


def _breaths(panel: _Panel, across: _Across) -> list[str]:
    plan = panel.plan
    dropped = {m.note_id for m in plan.marks if m.reason is BreathReason.DROPPED_NOTE}
    out = []
    for taken in plan.account.taken:
        x = across(taken.quarters)
        foot = panel.top - 2.5
        if taken.note_id in dropped:
            out.append(_cross(x, foot))
        else:
            out.append(_comma(x, foot))
    return out


def _cross(x: float, y: float) -> str:
    """A note that is left out; `y` is its foot."""
    return (
        f'<path class="dropped" d="M {x - 3:.2f} {y - 6:.2f} l 6 6 m -6 0 l 6 -6" '
        f'fill="none" stroke="{INK}" stroke-width="1.3"/>'
    )


def _comma(x: float, y: float) -> str:
    """A breath mark as engravers draw it: a round head with a tail; `y` is its foot."""
    return (
        f'<path class="breath" d="M {x - 2.6:.2f} {y - 7.4:.2f} '
        f"a 2.5 2.5 0 1 1 4.7 1.3 c -0.6 2.6 -2.2 4.6 -4.6 6.1 l -0.4 -0.5 "
        f'c 1.5 -1.4 2.4 -2.7 2.6 -4.2 a 2.5 2.5 0 0 1 -2.3 -2.7 z" '
        f'fill="{INK}"/>'
    )


def _parts(performance: Performance, panels: Sequence[_Panel], across: _Across) -> list[str]:
    """A letter above each part and a line where it begins."""
    if not panels:
        return []
    out = []
    for number, part in enumerate(find_parts(performance)):
        x = across(part.onset)
        if number:
            for panel in panels:
                out.append(svgmarks.line(x, panel.top, x, panel.bottom, HAIR, 0.7))
        out.append(svgmarks.text(x, TOP - 8.0, part.letter, LABEL + 1.0, "start", "bold"))
    return out


def _bars(performance: Performance, top: float, across: _Across) -> list[str]:
    """A tick at each bar line, and the printed numbers of the bars as there is room.

    The first bar of a part has the best claim, then every fourth of it, then every second.
    """
    out = [svgmarks.line(across.left, top, across.left + across.width, top, INK, 0.7)]
    out.append(svgmarks.text(across.left - 7.0, top + 14.0, "bar", LABEL, "end"))
    onsets = [float(played.onset) for played in performance.bars]
    for onset, played in zip(onsets, performance.bars, strict=True):
        if played.bar.number:
            out.append(svgmarks.line(across(onset), top, across(onset), top + 3.0, INK, 0.6))
    claims: list[tuple[int, float, int]] = []
    parts = find_parts(performance)
    for k, part in enumerate(parts):
        first = next(
            (
                i
                for i, p in enumerate(performance.bars)
                if onsets[i] >= part.onset - 1e-6 and p.bar.number == part.bar
            ),
            0,
        )
        stop = parts[k + 1].onset if k + 1 < len(parts) else float(performance.length)
        last = bisect_left(onsets, stop - 1e-6)
        for i in range(first, last):
            count = i - first
            rank = 0 if count == 0 else 1 if count % 4 == 0 else 2 if count % 2 == 0 else 3
            if rank < 3 and performance.bars[i].bar.number:
                claims.append((rank, across(onsets[i]), performance.bars[i].bar.number))
    drawn: list[float] = []
    for _, x, number in sorted(claims):
        if all(abs(x - other) >= _NUMBER_ROOM for other in drawn):
            drawn.append(x)
            out.append(svgmarks.text(x, top + 14.0, str(number), SMALL, "middle"))
    return out


def _legend(plans: Sequence[BreathPlan]) -> list[tuple[str, float, str]]:
    """The signs that occur, each drawn at 0, 0 (the foot of a line of text), with its width and
    what it means."""
    reasons = {mark.reason for plan in plans for mark in plan.marks}
    signs = [(f'<rect y="-8" width="20" height="9" fill="{BAND}"/>', 20.0, "comfortable")]
    if any(_limit_in_sight(plan.account) for plan in plans):
        signs.append(
            (svgmarks.line(0.0, -3.5, 22.0, -3.5, INK, 0.7, "4 3"), 22.0, "breathe by here")
        )
    if any(plan.trouble for plan in plans):
        black = f'<rect y="-8" width="20" height="9" fill="{INK}"/>'
        signs.append((black, 20.0, "more than the lungs have"))
    if reasons - {BreathReason.DROPPED_NOTE}:
        signs.append((_comma(3.0, 0.0), 6.0, "take a breath"))
    if BreathReason.DROPPED_NOTE in reasons:
        signs.append((_cross(3.0, -1.0), 6.0, "leave the note out and breathe"))
    return signs


def _legend_lines(
    signs: Sequence[tuple[str, float, str]], top: float, across: _Across
) -> tuple[list[str], float]:
    """The legend from `top` down in as many lines as it takes, and how high it is."""
    out: list[str] = []
    x, y = across.left, top + LEGEND - 5.0
    for sign, sign_width, words in signs:
        width = sign_width + 5.0 + len(words) * SMALL * _EM_A_LETTER
        if x > across.left and x + width > across.left + across.width:
            x, y = across.left, y + LEGEND
        out.append(f'<g transform="translate({x:.2f} {y:.2f})">{sign}</g>')
        out.append(svgmarks.text(x + sign_width + 5.0, y, words, SMALL, "start"))
        x += width + 22.0
    return out, y + 5.0 - top if signs else 0.0


def _limit_in_sight(account: BreathAccount) -> bool:
    """Whether a limit is drawn."""
    high, low = _reach(account)
    return max(high, -low) >= account.lungs.most_litres
