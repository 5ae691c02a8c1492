"""How the valves are laid out on strips of valve material, to be cut.

A strip is as wide as the user's material. Valves stand on it side by side, pads down, along one
line at the bottom, the longest first, so that one cut across the strip frees all pads; a plate
begins a new strip. Sizes in mm.

Public: `pack`, `Strip`, `Placed`, `STRIP_WIDTH`.
"""

from __future__ import annotations

from math import inf
from typing import NamedTuple

from reedwright.harp.model import Breath
from reedwright.workshop.valving.model import Valve, ValveError, ValvePlan

STRIP_WIDTH = 100.0  # mm of material where the user does not say
GAP = 1.6  # mm between valves, for the knife
MARGIN = 2.0  # mm of material left around them


class Placed(NamedTuple):
    """One valve on a strip: its left upper corner from that of the strip, mm; the pad is below."""

    valve: Valve
    x: float
    y: float


class Strip(NamedTuple):
    """A piece of material of `width` and `height` mm, with valves of one plate."""

    plate: Breath
    width: float
    height: float
    placed: tuple[Placed, ...]


def pack(plan: ValvePlan, strip_width: float = STRIP_WIDTH) -> tuple[Strip, ...]:
    """All valves of the plan that fit their slots, on as few strips as hold them in this order.

    Raises `ValveError` where not even one valve fits the width, or the width is none.
    """
    if not 0 < strip_width < inf:
        raise ValveError(f"{strip_width:g} mm is no width of material; give one such as 60")
    valves = [valve for valve in plan.valves if valve.fits]
    widest = max((valve.width for valve in valves), default=0.0)
    if valves and widest + 2 * MARGIN > strip_width:
        raise ValveError(
            f"material {strip_width:g} mm wide is too narrow for a valve of {widest:.1f} mm with "
            f"{MARGIN:g} mm on either side; give at least {widest + 2 * MARGIN:.1f} mm"
        )
    strips: list[Strip] = []
    for plate in Breath:
        row: list[Valve] = []
        for valve in sorted(
            (valve for valve in valves if valve.plate is plate), key=lambda v: -v.length
        ):
            if row and _extent([*row, valve]) > strip_width:
                strips.append(_strip(plate, row, strip_width))
                row = []
            row.append(valve)
        if row:
            strips.append(_strip(plate, row, strip_width))
    return tuple(strips)


def _extent(row: list[Valve]) -> float:
    return 2 * MARGIN + sum(valve.width for valve in row) + GAP * (len(row) - 1)


def _strip(plate: Breath, row: list[Valve], width: float) -> Strip:
    longest = max(valve.length for valve in row)
    placed = []
    x = MARGIN
    for valve in row:
        placed.append(Placed(valve, round(x, 3), round(MARGIN + longest - valve.length, 3)))
        x += valve.width + GAP
    return Strip(plate, width, longest + 2 * MARGIN, tuple(placed))
