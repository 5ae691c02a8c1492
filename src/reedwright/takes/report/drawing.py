"""The few strokes that the pictures of a report are made of, as SVG. Sizes in CSS pixels."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from xml.sax.saxutils import escape, quoteattr

PIXELS_PER_MM = 96 / 25.4
TEXT_FONT = "Libertinus Serif"
TAB_FONT = "Reedwright Tab"  # has the arrows of the tab
LABEL, SMALL = 11.0, 10.0  # 10 pixels are 7.5 points
INK, QUIET, HAIR, BAND, FAINT = "#000000", "#4d4d4d", "#8c8c8c", "#dcdcdc", "#ededed"
WHITE = "#ffffff"

Point = tuple[float, float]


def document(width: float, height: float, title: str, words: str, parts: Iterable[str]) -> str:
    """A whole drawing, with its title and itself in words."""
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.2f}" height="{height:.2f}" '
        f'viewBox="0 0 {width:.2f} {height:.2f}" role="img" font-family={quoteattr(TEXT_FONT)}>'
    )
    about = f"<title>{escape(title)}</title><desc>{escape(words)}</desc>"
    return "\n".join([head, about, *parts, "</svg>"]) + "\n"


def line(one: Point, two: Point, stroke: str = INK, width: float = 0.7, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<line x1="{one[0]:.2f}" y1="{one[1]:.2f}" x2="{two[0]:.2f}" y2="{two[1]:.2f}" '
        f'stroke="{stroke}" stroke-width="{width:g}"{dashed}/>'
    )


def box(
    corner: Point,
    width: float,
    height: float,
    fill: str = "none",
    stroke: str = "none",
    dash: str = "",
    round_: float = 0.0,
) -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    edge = f' stroke="{stroke}" stroke-width="0.8"{dashed}' if stroke != "none" else ""
    return (
        f'<rect x="{corner[0]:.2f}" y="{corner[1]:.2f}" width="{max(0.1, width):.2f}" '
        f'height="{height:.2f}" rx="{round_:g}" fill="{fill}"{edge}/>'
    )


def text(
    at: Point,
    content: str,
    size: float = SMALL,
    anchor: str = "start",
    weight: str = "normal",
    font: str = "",
    fill: str = INK,
) -> str:
    family = f" font-family={quoteattr(font)}" if font else ""
    return (
        f'<text x="{at[0]:.2f}" y="{at[1]:.2f}" font-size="{size:g}" font-weight="{weight}" '
        f'text-anchor="{anchor}" fill="{fill}"{family} xml:space="preserve">'
        f"{escape(content)}</text>"
    )


def path(
    points: Sequence[Point],
    stroke: str = INK,
    width: float = 0.9,
    close: bool = False,
    fill: str = "none",
) -> str:
    ends = " Z" if close else ""
    moves = " L ".join(f"{x:.2f} {y:.2f}" for x, y in points)
    return (
        f'<path d="M {moves}{ends}" fill="{fill}" stroke="{stroke}" stroke-width="{width:g}" '
        'stroke-linejoin="round"/>'
    )


def cross(at: Point, reach: float = 3.2) -> str:
    """A saltire: a note that was missed."""
    x, y = at
    return (
        f'<path d="M {x - reach:.2f} {y - reach:.2f} l {2 * reach:g} {2 * reach:g} '
        f'm {-2 * reach:g} 0 l {2 * reach:g} {-2 * reach:g}" fill="none" stroke="{INK}" '
        'stroke-width="1.3"/>'
    )


def diamond(at: Point, reach: float = 4.2) -> str:
    """A full diamond: what was played in a note's place."""
    x, y = at
    corners = [(x - reach, y), (x, y - reach), (x + reach, y), (x, y + reach)]
    return path(corners, INK, 0.8, True, INK)


def plus(at: Point, reach: float = 3.6) -> str:
    """An open circle with a plus: a note that is not written."""
    x, y = at
    return (
        f'<circle cx="{x:.2f}" cy="{y:.2f}" r="{reach:g}" fill="{WHITE}" stroke="{INK}" '
        f'stroke-width="0.9"/><path d="M {x - reach + 1.2:.2f} {y:.2f} h {2 * reach - 2.4:g} '
        f'M {x:.2f} {y - reach + 1.2:.2f} v {2 * reach - 2.4:g}" fill="none" stroke="{INK}" '
        'stroke-width="0.9"/>'
    )


def ring(at: Point, reach: float = 2.2) -> str:
    """A small open circle: an ornament of the player's own."""
    return (
        f'<circle cx="{at[0]:.2f}" cy="{at[1]:.2f}" r="{reach:g}" fill="{WHITE}" '
        f'stroke="{INK}" stroke-width="0.9"/>'
    )


def wedge(at: Point, up: bool, reach: float = 3.4, full: bool = True) -> str:
    """A triangle that points up or down; its point is at `at`."""
    x, y = at
    foot = y + (1.5 * reach if up else -1.5 * reach)
    return path(
        [(x, y), (x - reach, foot), (x + reach, foot)], INK, 0.8, True, INK if full else WHITE
    )


def thinned(points: Sequence[Point], slack: float = 0.25) -> list[Point]:
    """Without the points that lie within `slack` of the line between their neighbours."""
    kept: list[Point] = []
    for point in points:
        while len(kept) > 1:
            (ax, ay), (bx, by) = kept[-2:]
            cx, cy = point
            if abs((bx - ax) * (cy - ay) - (cx - ax) * (by - ay)) > slack * max(cx - ax, 1e-9):
                break
            kept.pop()
        kept.append(point)
    return kept
