"""The reed meter's dial: where cents lie on it. Fine about the target, coarse far from it.

An angle is that share of the whole which asinh(cents / 5) has of asinh(50 / 5): within a few cents
of the target a cent takes the same room, and beyond them ever less, so that a reed far off is still
on the dial. The page's script has the same formula and takes its figures from here.

Public: `Dial`, `dial`, `angle`.
"""

from __future__ import annotations

from math import asinh, cos, radians, sin
from typing import NamedTuple

from reedwright.workshop.measuring.remarks import TOLERANCE

FINE = 5.0  # cents: within them the dial is nearly even
SPAN = 50.0  # cents at its ends
WIDEST = 62.0  # degrees from upright at its ends
WIDTH, HEIGHT = 400.0, 216.0  # units of the drawing
PIVOT = (200.0, 206.0)
RADIUS = 168.0
_MARKS = (0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 10.0, 15.0, 20.0, 30.0, 40.0, 50.0)
_NUMBERED = (0.0, 2.0, 5.0, 10.0, 20.0, 50.0)


class Tick(NamedTuple):
    """A mark of the dial, from (x1, y1) to (x2, y2), its number (or "") at (x, y)."""

    x1: float
    y1: float
    x2: float
    y2: float
    number: str
    x: float
    y: float


class Dial(NamedTuple):
    """`band`: the path of the arc in which a reed is left alone."""

    ticks: tuple[Tick, ...]
    arc: str
    band: str
    pivot: tuple[float, float]
    reach: float
    size: tuple[float, float]
    fine: float = FINE
    span: float = SPAN
    widest: float = WIDEST


def angle(cents: float) -> float:
    """Degrees from upright, to the right above 0."""
    kept = max(-SPAN, min(SPAN, cents))
    return WIDEST * asinh(kept / FINE) / asinh(SPAN / FINE)


def dial() -> Dial:
    ticks = []
    for cents in sorted({sign * each for each in _MARKS for sign in (1, -1)}):
        long = abs(cents) in _NUMBERED
        x1, y1 = _at(cents, RADIUS)
        x2, y2 = _at(cents, RADIUS - (14 if long else 8))
        x, y = _at(cents, RADIUS + 14)
        sign = "+" if cents > 0 else "\N{MINUS SIGN}" if cents < 0 else ""
        number = f"{sign}{abs(cents):g}" if long else ""
        ticks.append(Tick(x1, y1, x2, y2, number, x, y + 5))
    return Dial(
        tuple(ticks),
        _arc(SPAN, RADIUS),
        _arc(TOLERANCE, RADIUS - 4),
        PIVOT,
        RADIUS - 18,
        (WIDTH, HEIGHT),
    )


def _arc(cents: float, radius: float) -> str:
    (x1, y1), (x2, y2) = _at(-cents, radius), _at(cents, radius)
    return f"M{x1:.1f} {y1:.1f}A{radius:g} {radius:g} 0 0 1 {x2:.1f} {y2:.1f}"


def _at(cents: float, radius: float) -> tuple[float, float]:
    turned = radians(angle(cents))
    x, y = PIVOT[0] + radius * sin(turned), PIVOT[1] - radius * cos(turned)
    return round(x, 1), round(y, 1)
