"""A tune with its repeats written out: every bar stands as often as it is played.

What is played then differs from pass to pass where somebody wants it to. Ids of notes stay
on the first pass; on pass 2 they end in `t2`, and so on.

Public: `written_out`, `time_of`.
"""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

from reedwright.tune.model import Bar, BarLine, Change, Event, Note, Rest, Tune
from reedwright.tune.unfold import PlayedBar, unfold


def written_out(tune: Tune, voice: int = 0) -> Tune:
    """One voice of the tune as it is played, without repeats, endings and jumps.

    The tune then has this one voice, and of several verses each time through has its own. Bars
    are numbered through; what stood before a bar line in its middle keeps one number with what
    follows. Where the music turns back, and where a repeat began, stands a double bar line. A
    tune that has not that voice is itself.

    Raises `EndlessTune` (see `unfold`).
    """
    if voice >= len(tune.voices):
        return tune
    played = unfold(tune, voice).bars
    if [each.bar.index for each in played] == [bar.index for bar in tune.voices[voice].bars]:
        return replace(tune, voices=(tune.voices[voice],))
    times: dict[int, int] = {}
    bars: list[Bar] = []
    for place, each in enumerate(played):
        time = times[each.bar.index] = times.get(each.bar.index, 0) + 1
        following = played[place + 1].bar if place + 1 < len(played) else None
        bars.append(_bar(each, time, bars, following))
    mine = replace(tune.voices[voice], bars=tuple(bars))
    fields = tuple(field for field in tune.fields if field.code != "P")
    return replace(tune, voices=(mine,), part_order=(), fields=fields)


_TIME = re.compile(r"((?:v\d+)?n\d+)t(\d+)")


def time_of(note_id: str) -> tuple[str, int]:
    """Which note an id stands for and which time through: `("n12", 2)` for `n12t2`."""
    found = _TIME.match(note_id)
    return (found[1], int(found[2])) if found else (note_id, 1)


def _bar(played: PlayedBar, time: int, before: list[Bar], following: Bar | None) -> Bar:
    bar = played.bar
    turns = following is not None and following.index <= bar.index
    part_ends = following is not None and following.repeat_open and bar.number > 0
    closing = bar.closing
    if following is None:
        closing = BarLine.FINAL
    elif turns or part_ends or bar.repeat_close:
        closing = BarLine.DOUBLE
    return replace(
        bar,
        index=len(before),
        number=_number(bar, before),
        events=tuple(_event(event, time) for event in bar.events),
        overlays=tuple(tuple(_event(e, time) for e in layer) for layer in bar.overlays),
        opening=BarLine.NONE,
        closing=closing,
        repeat_open=False,
        repeat_close=0,
        ending=(),
        ending_last=False,
        marks=(),
        line_end=bar.line_end or turns,
    )


def _number(bar: Bar, before: list[Bar]) -> int:
    """The printed number: counted through, short bars that fill one bar together as one."""
    if not before:
        return min(bar.number, 1)
    last = before[-1].number
    so_far = Fraction(0)
    for each in reversed(before):
        if each.number != last:
            break
        so_far += each.length
    full = bar.meter.bar_length
    if last and full is not None and so_far < full and so_far + bar.length <= full:
        return last
    return last + 1


def _event(event: Event, time: int) -> Event:
    if isinstance(event, Note) and len(event.lyrics) > 1:
        event = replace(event, lyrics=event.lyrics[min(time, len(event.lyrics)) - 1 :][:1])
    if time == 1 or isinstance(event, Change):
        return event
    if isinstance(event, Rest):
        return replace(event, id=f"{event.id}t{time}")
    graces = tuple(replace(grace, id=f"{grace.id}t{time}") for grace in event.graces)
    return replace(event, id=f"{event.id}t{time}", graces=graces)
