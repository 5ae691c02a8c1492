"""Bars that sound the same: which of them a player took up again.

Parts often end with the same bars, so a run that begins with one of these may begin at any of
them. Of those the one is meant that lies nearest to where the player broke off.

Public: `with_nearest_start`.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from reedwright.takes.following.played import PlayedBar, Visit
from reedwright.takes.following.score import Score

_MOST_BARS = 8  # at the start of a run that may stand elsewhere too
_FARTHEST = 16  # bars back that a player goes


def with_nearest_start(
    score: Score, kept: Sequence[PlayedBar], bars: list[PlayedBar]
) -> list[PlayedBar]:
    """The bars of a run, its first ones changed for twins that lie nearer to the end of `kept`."""
    if not kept:
        return bars
    order = [played.bar.index for played in score.performance.bars]
    best, nearest = _distance(kept, order, bars[0].bar), bars
    for count in range(1, min(_MOST_BARS, len(bars)) + 1):
        then = bars[count].bar if count < len(bars) else None
        for twins in _twin_ways(score, [bar.bar for bar in bars[:count]], then):
            away = _distance(kept, order, twins[0])
            if away < best:
                changed = [
                    _changed(score, bar, twin) for bar, twin in zip(bars, twins, strict=False)
                ]
                best, nearest = away, changed + bars[count:]
    return nearest


def _distance(kept: Sequence[PlayedBar], order: list[int], begins: int) -> float:
    """In bars: back to where it was last played; on, which is rarer, counts twice."""
    found = float(_FARTHEST)
    for back, played in enumerate(reversed(kept[-_FARTHEST:])):
        if played.bar == begins:
            found = back
            break
    ended = kept[-1].bar
    for one in (k for k, bar in enumerate(order) if bar == ended):
        for left_out, bar in enumerate(order[one + 1 :]):
            if bar == begins:
                found = min(found, 2 * left_out + 0.5)
                break
    return found


def _twin_ways(score: Score, bars: list[int], then: int | None) -> list[list[int]]:
    """Other bars one after another that sound as these do and lead on as they do."""
    contents = [_content(score, bar) for bar in bars]
    every = {
        (played.bar.index, content)
        for played in score.performance.bars
        for content in [_content(score, played.bar.index)]
    }
    follows = set(pairwise(played.bar.index for played in score.performance.bars))
    ways = [
        [bar]
        for bar, content in sorted(every)
        if content == contents[-1] and (then is None or (bar, then) in follows)
    ]
    for wanted in reversed(contents[:-1]):
        ways = [
            [bar, *way]
            for way in ways
            for bar, content in sorted(every)
            if content == wanted and (bar, way[0]) in follows
        ]
    return [way for way in ways if way[0] != bars[0]]


def _content(score: Score, bar: int) -> tuple[tuple[float, int], ...]:
    places = (score.places[k] for k in score.in_bar(bar))
    return tuple((float(p.offset), p.midi) for p in places if not p.is_grace)


def _changed(score: Score, bar: PlayedBar, twin: int) -> PlayedBar:
    """The same visits in the twin. Grace notes that it lacks are left out."""
    if bar.bar == twin:
        return bar
    there = {
        (score.places[k].offset, score.places[k].midi, score.places[k].is_grace): k
        for k in score.in_bar(twin)
    }
    visits = []
    for visit in bar.visits:
        place = score.places[visit.place]
        other = there.get((place.offset, place.midi, place.is_grace))
        if other is not None:
            visits.append(Visit(other, visit.heard))
    return PlayedBar(twin, bar.run, visits, bar.cut, bar.whole)
