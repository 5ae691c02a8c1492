"""The melody of a tune as it may come to somebody's ear: once through, and across every join.

Public: `strips`, `strips_of`, `MelodyNote`.

A repeat does not make a tune longer here, but whoever plays from the end of a part back into
its beginning plays a join, which must be found, too. So each tune is cut into strips:
all that is new in the order of playing, with `JOIN_NOTES` of what comes before and after.
"""

from __future__ import annotations

from typing import NamedTuple

from reedwright.tune.model import Tune
from reedwright.tune.unfold import Performance, unfold

JOIN_NOTES = 20
"""About four seconds of a reel: what may lie on one side of a join. Our own choice."""


class MelodyNote(NamedTuple):
    """The melody's pitch (MIDI), onset and length in quarter notes as played, printed bar."""

    midi: int
    onset: float
    length: float
    bar: int


def strips(tune: Tune, voice: int = 0) -> list[list[MelodyNote]]:
    """The strips of one voice, ties joined, grace notes left out; none for a tune without notes."""
    return strips_of(unfold(tune, voice))


def strips_of(performance: Performance) -> list[list[MelodyNote]]:
    """As `strips`, of a tune that is played out already."""
    notes: list[MelodyNote] = []
    new: list[bool] = []
    heard: set[int] = set()  # bars
    last = -1
    is_new = False
    for played in performance.notes:
        bar = played.bar
        if played.continues and notes:
            held = notes[-1]
            notes[-1] = held._replace(length=held.length + float(played.note.length))
            continue
        if bar.index != last:
            is_new = bar.index not in heard
            heard.add(bar.index)
            last = bar.index
        midi = played.note.pitch.midi
        notes.append(MelodyNote(midi, float(played.onset), float(played.note.length), bar.number))
        new.append(is_new)
    return _kept(notes, new)


def _kept(notes: list[MelodyNote], new: list[bool]) -> list[list[MelodyNote]]:
    """Runs of notes no further than `JOIN_NOTES` from a new one."""
    far = len(notes) + JOIN_NOTES + 1
    since = [far] * len(notes)
    distance = far
    for k, each in enumerate(new):
        distance = 0 if each else distance + 1
        since[k] = distance
    distance = far
    found: list[list[MelodyNote]] = []
    run: list[MelodyNote] = []
    for k in range(len(notes) - 1, -1, -1):
        distance = 0 if new[k] else distance + 1
        if min(since[k], distance) <= JOIN_NOTES:
            run.append(notes[k])
        elif run:
            found.append(run[::-1])
            run = []
    if run:
        found.append(run[::-1])
    return found[::-1]
