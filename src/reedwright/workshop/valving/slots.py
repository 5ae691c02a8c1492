"""How large the slots of a harp are: measured, worked out from measured ones, or from memory.

Between two measured holes of a plate the sizes go in even steps, so that they never leave what
lies between; beyond the last measured one they go on in the proportion of the defaults. A plate of
which nothing is measured follows the other one. Where no slot at all is measured the defaults of
the key's range hold (data/slot-sizes.toml, from memory).

Public: `slots_of`, `size_range`, `SizeRange`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple, cast

from reedwright.datafiles import read_toml
from reedwright.harp.model import Breath, Harp, Reed
from reedwright.workshop.valving.model import Slot, SlotSizes, ValveError

DEFAULTS = Path(__file__).with_name("data") / "slot-sizes.toml"
MIDDLE_C = 60  # hole 1 blow of the ordinary harp in C


class Size(NamedTuple):
    """Length and width, mm."""

    length: float
    width: float


class SizeRange(NamedTuple):
    """Default slots of harps from `lowest` (MIDI note of Richter's hole 1 blow) up."""

    name: str
    lowest: int
    first: Size
    last: Size

    def at(self, hole: int, holes: int) -> Size:
        """The default slot of one hole of a harp with so many."""
        share = (hole - 1) / (holes - 1) if holes > 1 else 0.0
        return _between(self.first, self.last, share)


def size_range(harp: Harp) -> SizeRange:
    """The defaults for a harp of this key and register."""
    return [each for each in _ranges() if each.lowest <= MIDDLE_C + harp.transpose][-1]


def slots_of(harp: Harp, sizes: SlotSizes | None = None) -> tuple[Slot, ...]:
    """Every slot of both plates: blow from hole 1 up, then draw.

    Raises `ValveError` where a hole was measured that the harp does not have.
    """
    given = {slot.reed: slot for slot in sizes.slots} if sizes else {}
    holes = harp.tuning.holes
    for reed in given:
        if reed.hole > holes:
            raise ValveError(
                f"slot sizes name hole {reed.hole}, but the {harp.name} has {holes} holes; take "
                "that line out, or name the harp that was measured"
            )
    default = size_range(harp)
    found = []
    for plate in Breath:
        known = _known(given, plate) or _known(given, plate.other)
        for hole in range(1, holes + 1):
            reed = Reed(hole, plate)
            if reed in given:
                found.append(given[reed]._replace(measured=True, worked_out=False))
            elif known:
                found.append(Slot(reed, *_from_known(hole, known, default, holes), False, True))
            else:
                found.append(Slot(reed, *default.at(hole, holes)))
    return tuple(found)


def _known(given: Mapping[Reed, Slot], plate: Breath) -> dict[int, Size]:
    return {
        reed.hole: Size(slot.length, slot.width)
        for reed, slot in sorted(given.items())
        if reed.breath is plate
    }


def _from_known(hole: int, known: Mapping[int, Size], default: SizeRange, holes: int) -> Size:
    if hole in known:  # of the other plate
        return known[hole]
    below = max((each for each in known if each < hole), default=None)
    above = min((each for each in known if each > hole), default=None)
    if below is not None and above is not None:
        return _between(known[below], known[above], (hole - below) / (above - below))
    nearest = below if below is not None else above
    assert nearest is not None  # something is known
    own, there = default.at(hole, holes), default.at(nearest, holes)
    return Size(
        known[nearest].length * own.length / there.length,
        known[nearest].width * own.width / there.width,
    )


def _between(one: Size, other: Size, share: float) -> Size:
    return Size(
        one.length + share * (other.length - one.length),
        one.width + share * (other.width - one.width),
    )


@cache
def _ranges() -> tuple[SizeRange, ...]:
    values = read_toml(DEFAULTS, "slot sizes", ValveError).values
    return tuple(
        SizeRange(str(each["name"]), int(each["lowest"]), Size(*each["first"]), Size(*each["last"]))
        for each in cast("list[dict[str, Any]]", values["range"])
    )
