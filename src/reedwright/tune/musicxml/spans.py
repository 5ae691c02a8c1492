"""Ties and slurs of one voice, matched over its bars before anything is written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from reedwright.tune.model import Change, Event, Note, Pitch

MOST_SLURS = 16  # numbers that MusicXML 4.0 has for overlapping slurs


@dataclass(slots=True)
class Spans:
    """By note id: pitches whose tie starts or stops there, numbers of slurs likewise."""

    tie_starts: dict[str, set[Pitch]] = field(default_factory=dict)
    tie_stops: dict[str, set[Pitch]] = field(default_factory=dict)
    slur_starts: dict[str, list[int]] = field(default_factory=dict)
    slur_stops: dict[str, list[int]] = field(default_factory=dict)


def find_spans(events: Iterable[Event]) -> Spans:
    """Match ties and slurs. What has no other end is left out.

    A slur closes the one opened last.
    """
    spans = Spans()
    before: Note | None = None
    open_slurs: list[str] = []
    pairs: list[tuple[str, str]] = []
    order: dict[str, int] = {}
    for event in events:
        if isinstance(event, Change):
            continue
        if not isinstance(event, Note):
            before = None
            continue
        order[event.id] = len(order)
        if before is not None:
            tied = {p for p, on in zip(before.pitches, before.ties, strict=False) if on}
            for pitch in tied.intersection(event.pitches):
                spans.tie_starts.setdefault(before.id, set()).add(pitch)
                spans.tie_stops.setdefault(event.id, set()).add(pitch)
        for _ in range(event.slurs_close):
            if open_slurs and open_slurs[-1] != event.id:
                pairs.append((open_slurs.pop(), event.id))
        open_slurs += [event.id] * event.slurs_open
        before = event
    _number_slurs(spans, sorted(pairs, key=lambda pair: order[pair[0]]), order)
    return spans


def _number_slurs(spans: Spans, pairs: list[tuple[str, str]], order: dict[str, int]) -> None:
    """The lowest number that is free from a slur's start to its end."""
    busy: dict[int, int] = {}
    for start, stop in pairs:
        number = next((n for n in range(1, MOST_SLURS + 1) if busy.get(n, -1) < order[start]), None)
        if number is None:
            continue
        busy[number] = order[stop]
        spans.slur_starts.setdefault(start, []).append(number)
        spans.slur_stops.setdefault(stop, []).append(number)
