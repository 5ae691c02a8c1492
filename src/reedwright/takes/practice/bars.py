"""Bars and parts in a followed take: where they are played, and which time most cleanly.

Public: `Stretch`, `NotInTake`, `parts_played`, `times_played`, `chosen`.
"""

from __future__ import annotations

from itertools import groupby
from math import log
from typing import NamedTuple

import numpy as np

from reedwright.errors import ReedwrightError
from reedwright.tab.words import ordinal_word
from reedwright.takes.model import FollowedBar, FollowedNote, Following
from reedwright.takes.practice.settings import Loop

# What counts how much in choosing the cleanest time (our own choice, no source): a missed note
# as much as being off the beat by half a crotchet all through.
_MISSED, _EXTRA, _OFF_BEAT, _OFF_TEMPO = 1.0, 0.5, 2.0, 1.0


class NotInTake(ReedwrightError):
    """Bars were asked for that the take does not play."""


class Stretch(NamedTuple):
    """Bars that a take plays one after another."""

    bars: tuple[FollowedBar, ...]

    @property
    def start(self) -> float:
        """Seconds in the take."""
        return self.bars[0].start

    @property
    def end(self) -> float:
        return self.bars[-1].end

    @property
    def quarters(self) -> float:
        return float(sum(bar.length for bar in self.bars))

    def notes(self, following: Following) -> tuple[FollowedNote, ...]:
        return following.notes[self.bars[0].first : self.bars[-1].last]


def parts_played(following: Following) -> tuple[Stretch, ...]:
    """Each part at each time through, in the order of the take. Bars of no part are left out."""
    groups = groupby(following.bars, key=lambda bar: (bar.part, bar.part_time))
    return tuple(Stretch(tuple(bars)) for (part, _), bars in groups if part)


def times_played(following: Following, first: int, last: int) -> tuple[Stretch, ...]:
    """Every time that the bars from `first` to `last` (printed numbers) are played in a row.

    Endings that are not played that time are passed over.
    """
    bars = following.bars
    found = []
    for k, bar in enumerate(bars):
        begins = bar.number == first and (
            k == 0 or bars[k - 1].number != first or bars[k - 1].index >= bar.index
        )
        if not begins:
            continue
        end = k + 1
        while (
            end < len(bars)
            and bars[end].index > bars[end - 1].index
            and first <= bars[end].number <= last
        ):
            end += 1
        if bars[end - 1].number == last:
            found.append(Stretch(bars[k:end]))
    return tuple(found)


def chosen(following: Following, loop: Loop) -> Stretch:
    """The time asked for, or the one played most cleanly.

    Raises `NotInTake`, which says what there is.
    """
    times = times_played(following, loop.first, loop.last)
    name = loop.name
    title = following.arrangement.tune.title
    if not times:
        raise NotInTake(f"{title}: the take does not play {name}{_what_there_is(following, loop)}")
    if loop.time > len(times):
        count = "once" if len(times) == 1 else f"{len(times)} times"
        raise NotInTake(
            f"{title}: the take plays {name} only {count}; "
            f"there is no {ordinal_word(loop.time)} time."
        )
    if loop.time:
        return times[loop.time - 1]
    usual = following.quarters_per_minute()
    return min(times, key=lambda stretch: _untidiness(following, stretch, usual))


def _what_there_is(following: Following, loop: Loop) -> str:
    numbers = sorted({bar.number for bar in following.bars} - {0})
    there = f"bars {numbers[0]} to {numbers[-1]}" if numbers else "no whole bar"
    if loop.first == loop.last:
        return f"; it plays {there}. Choose one of them."
    return (
        f" in a row; it plays {there}. Choose bars that follow each other there: a first and a "
        "second ending do not."
    )


def _untidiness(following: Following, stretch: Stretch, quarters_per_minute: float) -> float:
    notes = [note for note in stretch.notes(following) if not note.is_grace]
    count = max(1, len(notes))
    heard = [note for note in notes if note.was_heard]
    within = [
        each
        for each in following.extra
        if stretch.start <= following.heard.notes[each].start < stretch.end
    ]
    missed, extra = (count - len(heard)) / count, len(within) / count
    seconds = stretch.end - stretch.start
    if seconds <= 0 or not stretch.quarters or not quarters_per_minute:
        return float("inf")
    quarter = seconds / stretch.quarters
    off_tempo = abs(log(quarter * quarters_per_minute / 60))
    return (
        _MISSED * missed
        + _EXTRA * extra
        + _OFF_TEMPO * off_tempo
        + _OFF_BEAT * _off_beat(heard, stretch, quarter)
    )


def _off_beat(heard: list[FollowedNote], stretch: Stretch, quarter: float) -> float:
    """How far the notes lie off an even beat, root mean square, in crotchets."""
    if not heard:
        return 1.0
    begin = stretch.bars[0].onset
    even = np.array([stretch.start + float(note.onset - begin) * quarter for note in heard])
    off = (np.array([note.start for note in heard]) - even) / quarter
    return float(np.sqrt(np.mean(off**2)))
