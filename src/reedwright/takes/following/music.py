"""From matched notes to music: bars in the order in which the take plays them, false starts apart.

A path falls into runs, within which one note follows the other as written. Where a run begins
at a bar that the one before it has just played, that one was broken off: from that bar on it
was a false start.

Public: `make_music`, `Music`, `Broken`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.following.bridges import Bridge
from reedwright.takes.following.path import Match
from reedwright.takes.following.played import PlayedBar, Visit
from reedwright.takes.following.score import Score, Step
from reedwright.takes.following.twins import with_nearest_start

Array = npt.NDArray[np.float64]

_EDGE_SHARE, _EDGE_SHARE_OF_PART = Fraction(1, 3), Fraction(1, 2)
"""At the edge of a run: so much of a bar may be missed notes; more was not meant to be played."""
_EDGE_NOTES = 2
_FALSE_SHARE = Fraction(1, 2)  # of the tune: more than that was no false start
_STOP = 0.6  # seconds without the tune that are a stop
_ON_IS_DEARER = {False: 2, True: 5}
"""Leaving bars out is so much rarer than going back; after a stop still rarer."""
_SHORT_RUN_BARS = 8  # a run before the beginning that is longer is music


class Broken(NamedTuple):
    """Heard notes, from the first to the last, that were broken off. `again`: and begun anew;
    else they only happen to be in the tune."""

    first: int
    last: int
    again: bool


class Music(NamedTuple):
    """What was played of the tune, and what was broken off."""

    bars: list[PlayedBar]
    broken: list[Broken]


def make_music(
    score: Score,
    matches: Sequence[Match],
    joins: Mapping[int, Bridge],
    start: Array,
    end: Array,
) -> Music:
    """The music of a path. `joins`: how runs go on, by the index of a run's first match;
    `start` and `end`: of each heard note, in seconds."""
    kept: list[PlayedBar] = []
    broken: list[Broken] = []
    order = [played.bar.index for played in score.performance.bars]
    for number, run in enumerate(_runs(score, matches, joins)):
        bars = with_nearest_start(score, kept, _bars_of(score, run, number))
        last = next((k for bar in reversed(kept) for k in reversed(bar.heard)), None)
        stopped = last is not None and float(start[bars[0].heard[0]] - end[last]) > _STOP
        where = _begun_again_at(score, kept, bars, order, stopped)
        if where is not None:
            heard = [each for bar in kept[where.first :] for each in bar.heard]
            if heard:
                broken.append(Broken(heard[0], heard[-1], where.again))
            del kept[where.first :]
        kept += bars
    return Music(kept, broken)


class _Move(NamedTuple):
    """A step of a run and the heard note that plays where it leads. The first of a run has no
    step: it begins at `place`."""

    place: int
    heard: int | None
    step: Step | None


def _runs(score: Score, matches: Sequence[Match], joins: Mapping[int, Bridge]) -> list[list[_Move]]:
    runs: list[list[_Move]] = []
    for k, match in enumerate(matches):
        if k in joins:
            bridge = joins[k]
            runs[-1] += [
                _Move(step.to, heard, step)
                for step, heard in zip(bridge.steps, bridge.heard, strict=True)
            ]
        elif match.edge < 0 or not runs:
            runs.append([_Move(match.place, match.heard, None)])
        else:
            steps = score.steps[match.edge]
            runs[-1] += [_Move(step.to, None, step) for step in steps[:-1]]
            runs[-1].append(_Move(match.place, match.heard, steps[-1]))
    return runs


def _bars_of(score: Score, run: list[_Move], number: int) -> list[PlayedBar]:
    bars = [PlayedBar(score.places[run[0].place].bar, number)]
    bars[0].whole = _lead_in(score, bars[0], run[0].place)
    for move in run:
        if move.step is not None and move.step.bars:
            bars[-1].cut = move.step.cut
            bars += [PlayedBar(each, number) for each in move.step.bars]
        bars[-1].visits.append(Visit(move.place, move.heard))
    bars[-1].whole = _lead_out(score, bars[-1], run[-1].place) and bars[-1].whole
    if bars[-1].whole:
        bars += [PlayedBar(bar, number) for bar in _held_into(score, bars[-1].bar)]
    return bars


def _held_into(score: Score, bar: int) -> list[int]:
    """The bars after this one that its last note is held through from end to end."""
    order = [played.bar.index for played in score.performance.bars]
    k = len(order) - 1 - order[::-1].index(bar) if bar in order else len(order)
    found = []
    for then in order[k + 1 :]:
        if score.in_bar(then) or not score.held_on[then]:
            break
        found.append(then)
    return found


def _lead_in(score: Score, bar: PlayedBar, first: int) -> bool:
    """Count what the bar has before the first heard note as missed, if it is little."""
    before = [k for k in score.in_bar(bar.bar) if k < first]
    notes = [k for k in before if not score.places[k].is_grace]
    starts = {part.bars[0] for part in score.parts} | {part.bars[:2][-1] for part in score.parts}
    share = _EDGE_SHARE_OF_PART if bar.bar in starts else _EDGE_SHARE
    late = score.places[first].offset > share * score.lengths[bar.bar]
    if len(notes) > _EDGE_NOTES or (notes and late):
        return False
    bar.visits += [Visit(k, None) for k in before]
    return True


def _lead_out(score: Score, bar: PlayedBar, last: int) -> bool:
    """The same for what comes after the last heard note."""
    after = [k for k in score.in_bar(bar.bar) if k > last]
    notes = [k for k in after if not score.places[k].is_grace]
    if not notes:
        return True
    ends = {part.bars[-1] for part in score.parts}
    share = _EDGE_SHARE_OF_PART if bar.bar in ends else _EDGE_SHARE
    missing = score.lengths[bar.bar] - score.places[notes[0]].offset
    if len(notes) > _EDGE_NOTES or missing > share * score.lengths[bar.bar]:
        return False
    bar.visits += [Visit(k, None) for k in after]
    return True


class _Again(NamedTuple):
    """From which of the kept bars on all was in vain."""

    first: int
    again: bool


def _begun_again_at(
    score: Score,
    kept: list[PlayedBar],
    bars: list[PlayedBar],
    order: list[int],
    stopped: bool,
) -> _Again | None:
    """Whether a new run takes up again what was played just before it. `stopped`: the player
    did before it."""
    if not kept:
        return None
    starts = {part.bars[0] for part in score.parts}
    starts |= {part.bars[1] for part in score.parts if len(part.bars) > 1}
    ends = {part.bars[-1] for part in score.parts}
    begins, ended = bars[0].bar, kept[-1].bar
    complete = ended in ends and kept[-1].whole
    if complete and begins in starts:
        return None
    most = score.performance.length * _FALSE_SHARE
    length = Fraction(0)
    for k in range(len(kept) - 1, -1, -1):
        length += score.lengths[kept[k].bar]
        if length > most:
            break
        if kept[k].bar == begins:
            back, on = len(kept) - k, _bars_on(order, ended, begins)
            dear = _ON_IS_DEARER[stopped]
            if on is not None and dear * on < back - 1:
                return None
            return _Again(k, True)
    # Begun with or without the anacrusis, or a phrase tried before the beginning.
    run = kept[-1].run
    first = next(k for k, bar in enumerate(kept) if bar.run == run)
    if begins == order[0] and len(kept) - first < _SHORT_RUN_BARS and not complete:
        return _Again(first, kept[first].bar in order[:3])
    return None


def _bars_on(order: list[int], ended: int, begins: int) -> int | None:
    """How many bars are left out when going on from one bar to another later in the tune."""
    found = [
        k - j - 1
        for j, one in enumerate(order)
        if one == ended
        for k in range(j + 1, len(order))
        if order[k] == begins
    ]
    return min(found, default=None)
