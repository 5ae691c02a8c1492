"""What notes and moves cost a player: the weights of a profile, counted in whole units.

Costs are whole numbers of 1/1024 effort, so that sums are exact, equal answers are
really equal, and the parts add up to the whole. Every cost is known by the name of
the weight that it comes from. What the weights mean: docs/effort.md.

The functions work on arrays that broadcast against each other: one number for one note,
or every way of every note on hundreds of harps at once.

Public: `SCALE`, `Ways`, `MoveKind`, `haste`, `note_parts`, `move_parts`,
`ornament_units`.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Breath, Sounding, Technique
from reedwright.player.profile import HOLES, Weights

SCALE = 1024
"""Units in one effort. A power of two, so that parts are exact as floats too."""

Costs = NDArray[np.int64]

TECHNIQUE_ORDER = tuple(Technique)  # natural, bend, valved bend, overblow, overdraw
_NATURAL, _BEND, _VALVED, _OVERBLOW, _OVERDRAW = range(len(TECHNIQUE_ORDER))
_EASY_HOLES = 7  # no plain note up to here counts as high
_LOW_HOLES = 2  # draw reeds 1 and 2 want a relaxed throat (common practice, no source)


class Ways(NamedTuple):
    """Ways to sound notes, as arrays of one shape. `hole` is 0 where the harp lacks the note.

    `breath` is 0 for blow and 1 for draw; `technique` counts as `TECHNIQUE_ORDER`.
    """

    hole: NDArray[np.int8]
    breath: NDArray[np.int8]
    technique: NDArray[np.int8]
    bend: NDArray[np.int8]
    slide: NDArray[np.int8]

    def take(self, index: Any) -> Ways:
        return Ways(*(array[index] for array in self))


def encoded(sounding: Sounding | None) -> tuple[int, int, int, int, int]:
    """A sounding as the five numbers of `Ways`."""
    if sounding is None:
        return (0, 0, 0, 0, 0)
    return (
        sounding.hole,
        int(sounding.breath is Breath.DRAW),
        TECHNIQUE_ORDER.index(sounding.technique),
        sounding.bend,
        int(sounding.slide),
    )


class MoveKind(NamedTuple):
    """What a move is like besides its two notes; numbers or arrays that broadcast.

    `haste`: from `haste`. `rest`: silence lies between. `slur`: both notes lie under one
    slur.
    """

    haste: Any
    rest: Any
    slur: Any


def haste(weights: Weights, seconds: Any) -> Any:
    """0 where the time is comfortable, growing as it gets short, up to `most_haste`."""
    shortest = 1e-3  # seconds; keeps a note of no length from dividing by zero
    lack = weights.comfortable_seconds / np.maximum(seconds, shortest) - 1.0
    return np.clip(lack, 0.0, weights.most_haste)


def _units(effort: Any) -> Costs:
    units: Costs = np.rint(np.asarray(effort) * SCALE).astype(np.int64)
    return units


def note_parts(weights: Weights, ways: Ways, hurry: Any) -> Iterator[tuple[str, Costs]]:
    """What it costs to make the notes, by name of weight. `hurry` is `haste` of their length."""
    growth = 1.0 + weights.short_note * hurry
    hole = np.minimum(ways.hole, HOLES) - 1  # a missing note reads the last hole, and is masked
    bend_factor = np.asarray(weights.bend_by_hole)[hole]
    over_factor = np.asarray(weights.over_by_hole)[hole]
    technique, bend = ways.technique, ways.bend
    draw = ways.breath == 1
    plain_bend = technique == _BEND
    for name, made, factor in (
        ("draw_bend_1", plain_bend & draw & (bend == 1), bend_factor),
        ("draw_bend_2", plain_bend & draw & (bend == 2), bend_factor),
        ("draw_bend_3", plain_bend & draw & (bend >= 3), bend_factor),
        ("blow_bend_1", plain_bend & ~draw & (bend == 1), bend_factor),
        ("blow_bend_2", plain_bend & ~draw & (bend >= 2), bend_factor),
        ("valved_bend", technique == _VALVED, bend_factor),
        ("overblow", technique == _OVERBLOW, over_factor),
        ("overdraw", technique == _OVERDRAW, over_factor),
    ):
        if made.any():
            yield name, _units(made * (getattr(weights, name) * factor * growth))
    there = ways.hole > 0
    natural = there & (technique == _NATURAL)
    yield "low_draw", _units(weights.low_draw * (natural & draw & (ways.hole <= _LOW_HOLES)))
    yield "high_hole", _units(weights.high_hole * np.maximum(ways.hole - _EASY_HOLES, 0))
    yield "missing_note", _units(weights.missing_note * ~there)


def ornament_units(weights: Weights, effort: Any, hurry: Any) -> Costs:
    """What an ornament costs on a note of this haste; `effort` is what it costs at leisure."""
    return _units(effort * (1.0 + weights.grace_haste * hurry))


def move_parts(
    weights: Weights, one: Ways, two: Ways, kind: MoveKind
) -> Iterator[tuple[str, Costs]]:
    """What it costs to go from one note to the next, by name of weight.

    Nothing where either is missing: such a note breaks the chain.
    """
    there = (one.hole > 0) & (two.hole > 0)
    remains = np.where(kind.rest, weights.after_rest, 1.0)
    distance = np.abs(two.hole - one.hole)
    change = there & (one.breath != two.breath)
    same_breath = there & (one.breath == two.breath)
    neighbour = distance == 1
    same_reed = same_breath & (distance == 0)
    leap = there & (distance >= 2)
    skipped = np.where(leap, distance - 1, 0)
    bent = two.technique != _NATURAL
    alone_bent = (one.technique == _BEND) | (one.technique == _VALVED)
    leap_growth = remains * (1.0 + weights.leap_haste * kind.haste)

    breath_growth = remains * (1.0 + weights.breath_haste * kind.haste)
    yield "breath_change", _units(change * (weights.breath_change * breath_growth))
    yield "neighbour", _units((same_breath & neighbour) * (weights.neighbour * remains))
    yield "step", _units((change & neighbour) * (weights.step * remains))
    yield "leap", _units(leap * (weights.leap * leap_growth))
    yield "leap_hole", _units(np.where(leap, distance, 0) * (weights.leap_hole * leap_growth))
    again = same_reed & (one.technique == two.technique)
    again = again & (one.bend == two.bend) & (one.slide == two.slide)
    repeat_growth = remains * (1.0 + weights.repeat_haste * kind.haste)
    yield "repeated_note", _units(again * (weights.repeated_note * repeat_growth))
    if one.slide.any() or two.slide.any():
        moved = there & (one.slide != two.slide)
        yield "slide_move", _units(moved * (weights.slide_move * remains))
    if np.any(kind.slur):
        yield "slur_skip", _units(skipped * kind.slur * (weights.slur_skip * remains))
        yield "slur_breath", _units((change & kind.slur) * (weights.slur_breath * remains))
    if bent.any():
        afar = there & bent & (distance > 0)
        yield "bend_from_afar", _units(afar * (weights.bend_from_afar * remains))
    if alone_bent.any():
        shift = same_reed & alone_bent & bent & (one.bend != two.bend)
        yield "bend_shift", _units(shift * (weights.bend_shift * remains))
        released = same_reed & alone_bent & ~bent
        yield "release", _units(released * (weights.release * remains))
