"""What a change to a harp brings and takes: notes gained and lost, hole by hole.

The bends and overblows of a hole follow from its two reeds and its valves (`harp.model`), so
what changes with one of them is the difference between all that the hole sounds before and after.

Public: `HoleChange`, `hole_changes`, `BendChange`, `bend_changes`.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.harp.model import Breath, Harp, Reed, Sounding


class HoleChange(NamedTuple):
    """One hole whose notes change. `gained` and `lost` hold every way to sound a note, reeds too.

    A way is the same where breath, technique and note are: a bend that is reached from another
    reed pitch counts as kept.
    """

    hole: int
    gained: tuple[Sounding, ...]
    lost: tuple[Sounding, ...]


def hole_changes(before: Harp, after: Harp) -> tuple[HoleChange, ...]:
    """The holes that sound other notes on `after`, from hole 1 up; of equally many holes.

    Notes are compared as they sound, so give two harps of one key unless the key changes too.
    """
    found = []
    for hole in range(1, after.tuning.holes + 1):
        old, new = _of_hole(before, hole), _of_hole(after, hole)
        gained = tuple(way for kind, way in new.items() if kind not in old)
        lost = tuple(way for kind, way in old.items() if kind not in new)
        if gained or lost:
            found.append(HoleChange(hole, gained, lost))
    return tuple(found)


def _of_hole(harp: Harp, hole: int) -> dict[tuple[str, str, int, bool], Sounding]:
    return {
        (way.breath, way.technique, way.midi, way.slide): way
        for slide in ((False, True) if harp.tuning.slide else (False,))
        for way in harp.hole_soundings(hole, slide)
    }


class BendChange(NamedTuple):
    """One reed whose bend or overbend is not as it was.

    `before`, `after`: semitones that it bends down at most (0: not at all). `over_before`,
    `over_after`: whether its breath has an overblow or overdraw.
    """

    reed: Reed
    before: int
    after: int
    over_before: bool
    over_after: bool


def bend_changes(before: Harp, after: Harp) -> tuple[BendChange, ...]:
    """The reeds whose bends get deeper, shallower, come or go, by hole, blow before draw.

    Depths are compared and not notes, so the two harps may be of different keys; of equally
    many holes. With the slide out.
    """
    found = []
    for hole in range(1, after.tuning.holes + 1):
        for breath in Breath:
            reed = Reed(hole, breath)
            (was, over_was), (now, over_now) = _bends(before, reed), _bends(after, reed)
            if (was, over_was) != (now, over_now):
                found.append(BendChange(reed, was, now, over_was, over_now))
    return tuple(found)


def _bends(harp: Harp, reed: Reed) -> tuple[int, bool]:
    ways = [way for way in harp.hole_soundings(reed.hole) if way.breath is reed.breath]
    return max(way.bend for way in ways), any(way.technique.overbend for way in ways)
