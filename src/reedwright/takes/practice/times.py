"""When each note and bar is heard in a track, so that a page can follow the sound.

Public: `TrackTimes`, `track_times`, `times_json`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from reedwright.sound.events import Span
from reedwright.takes.model import FollowedNote, Following
from reedwright.takes.practice.model import Cut, Track
from reedwright.tune.unfold import Performance, PlayedNote, unfold

_DIGITS = 4  # of a second


@dataclass(frozen=True, slots=True)
class BarTime:
    """A bar in a track: its index in the voice, printed number, and from when to when."""

    index: int
    number: int
    span: Span


@dataclass(frozen=True, slots=True)
class TrackTimes:
    """`spans` is as in `sound.events.Timeline`: for each id of a written note or grace note
    from when to when it lasts, each time that the track plays it, seconds in the track."""

    spans: Mapping[str, tuple[Span, ...]]
    bars: tuple[BarTime, ...]


def track_times(following: Following, track: Track) -> TrackTimes:
    """What a track plays when. A note that the take leaves out has the time where it would be."""
    spans: dict[str, list[Span]] = {}
    bars: list[BarTime] = []
    held = _held_on(following)
    for cut in track.cuts:
        for note in following.notes:
            for id_, start, end in _members(note, held):
                span = _within(cut, start, end, track.speed)
                if span is not None:
                    spans.setdefault(id_, []).append(span)
        for bar in following.bars:
            span = _within(cut, bar.start, bar.end, track.speed)
            if span is not None:
                bars.append(BarTime(bar.index, bar.number, span))
    return TrackTimes({id_: tuple(each) for id_, each in spans.items()}, tuple(bars))


def times_json(following: Following, tracks: Sequence[Track]) -> bytes:
    """The same of many tracks, as a file; the shape is in docs/practice-tracks.md."""
    content = {
        "tune": following.arrangement.tune.title,
        "tracks": {track.file: _as_json(following, track) for track in tracks},
    }
    return (json.dumps(content, ensure_ascii=False, indent=1) + "\n").encode()


def _as_json(following: Following, track: Track) -> dict[str, object]:
    times = track_times(following, track)
    return {
        "speed": track.speed,
        "seconds": round(track.duration, _DIGITS),
        "spans": {id_: [_pair(span) for span in spans] for id_, spans in times.spans.items()},
        "bars": [[bar.index, bar.number, *_pair(bar.span)] for bar in times.bars],
        "clicks": [round(click.time, _DIGITS) for click in track.clicks],
    }


def _pair(span: Span) -> list[float]:
    return [round(span.start, _DIGITS), round(span.end, _DIGITS)]


# The least share of a note or bar in a cut that makes it part of it: onsets are heard a little
# early or late of where a cut is made.
_MOST_OF_IT = 0.5


def _within(cut: Cut, start: float, end: float, speed: float) -> Span | None:
    """From `start` to `end` of the take in the track, as far as the cut has it."""
    first, last = max(start, cut.start), min(end, cut.end)
    if last - first < _MOST_OF_IT * (end - start) or last <= first:
        return None
    return Span(cut.at + (first - cut.start) / speed, cut.at + (last - cut.start) / speed)


class _Member(NamedTuple):
    """A written note of a tie: its length in quarters; `bar` counts from that of the first."""

    id: str
    length: float
    bar: int


class _Tie(NamedTuple):
    """A note with those that are only held on from it, and the bars (indices) they lie in."""

    members: tuple[_Member, ...]
    bars: tuple[int, ...]


def _held_on(following: Following) -> dict[tuple[str, int], tuple[_Member, ...]]:
    """By id and time of a followed note: the written notes that are held on from it there.

    Which those are is told by the bars that the take goes on with: a tie may lead into one
    ending and not into the other.
    """
    ties = _ties(unfold(following.arrangement.tune, following.arrangement.voice))
    order = [bar.index for bar in following.bars]
    found: dict[tuple[str, int], tuple[_Member, ...]] = {}
    for k, bar in enumerate(following.bars):
        for note in following.notes[bar.first : bar.last]:
            ways = [_as_far_as(tie, order[k:]) for tie in ties.get(note.id, ())]
            members = max(ways, key=len, default=())
            if len(members) > 1:
                found[note.id, note.time] = members
    return found


def _as_far_as(tie: _Tie, order: Sequence[int]) -> tuple[_Member, ...]:
    """The members of a tie as far as the take plays its bars."""
    pairs = enumerate(zip(tie.bars, order, strict=False))
    same = next((k for k, (one, two) in pairs if one != two), min(len(tie.bars), len(order)))
    return tuple(member for member in tie.members if member.bar < same)


def _ties(performance: Performance) -> dict[str, set[_Tie]]:
    """By the id of the first note: each way in which it is held on. A note that is struck on
    another pass is followed by itself (`following.score.held_after`) and belongs to none."""
    struck = {played.note.id for played in performance.notes if not played.held}
    order = [played.bar.index for played in performance.bars]
    chains: list[tuple[int, list[_Member]]] = []  # each with the bar it begins in
    bar = 0
    for played in performance.notes:
        while not _is_in(performance, bar, played):
            bar += 1
        if played.note.id in struck or not chains:
            chains.append((bar, []))
        first, members = chains[-1]
        members.append(_Member(played.note.id, float(played.note.length), bar - first))
    ties: dict[str, set[_Tie]] = {}
    for first, members in chains:
        if len(members) > 1:
            bars = tuple(order[first : first + members[-1].bar + 1])
            ties.setdefault(members[0].id, set()).add(_Tie(tuple(members), bars))
    return ties


def _is_in(performance: Performance, bar: int, note: PlayedNote) -> bool:
    """Whether a note is played in that bar of the performance."""
    bars = performance.bars
    over = bar + 1 < len(bars) and note.onset >= bars[bar + 1].onset
    return bars[bar].bar is note.bar and not over


def _members(
    note: FollowedNote, held: Mapping[tuple[str, int], tuple[_Member, ...]]
) -> list[tuple[str, float, float]]:
    """Each written note of a tie with its share of the time."""
    members = held.get((note.id, note.time))
    if members is None:
        return [(note.id, note.start, note.end)]
    whole = sum(member.length for member in members)
    found = []
    now = note.start
    for member in members:
        then = now + (note.end - note.start) * member.length / whole
        found.append((member.id, now, then))
        now = then
    return found
