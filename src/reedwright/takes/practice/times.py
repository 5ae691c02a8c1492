"""When each note and bar is heard in a track, so that a page can follow the sound.

Public: `TrackTimes`, `track_times`, `times_json`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reedwright.sound.events import Span
from reedwright.takes.model import Following
from reedwright.takes.practice.model import Cut, Track
from reedwright.tune.unfold import unfold

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
            for id_, start, end in _members(note.id, note.start, note.end, held):
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


def _held_on(following: Following) -> dict[str, list[tuple[str, float]]]:
    """For the first note of each tie, its members with their share of the whole length."""
    performance = unfold(following.arrangement.tune, following.arrangement.voice)
    ties: dict[str, list[tuple[str, float]]] = {}
    head = ""
    for played in performance.notes:
        length = float(played.note.length)
        if played.held and head:
            if all(id_ != played.note.id for id_, _ in ties[head]):
                ties[head].append((played.note.id, length))
        else:
            head = played.note.id
            ties.setdefault(head, [(head, length)])
    return {id_: members for id_, members in ties.items() if len(members) > 1}


def _members(
    id_: str, start: float, end: float, held: Mapping[str, list[tuple[str, float]]]
) -> list[tuple[str, float, float]]:
    """Each written note of a tie with its share of the time."""
    members = held.get(id_)
    if members is None:
        return [(id_, start, end)]
    whole = sum(length for _, length in members)
    found = []
    now = start
    for member, length in members:
        then = now + (end - start) * length / whole
        found.append((member, now, then))
        now = then
    return found
