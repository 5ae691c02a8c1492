"""Breaths written into an arrangement: planned, and marked in its tune.

Public: `with_breaths`.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace

from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.plan import plan_breaths
from reedwright.tab.ornaments.model import Origin
from reedwright.tab.wishes import Wishes
from reedwright.tune.model import Bar, Note, Tune

MARK = "breath"
"""The standard's name of the decoration (ABC 2.1, 4.14): a breath after the note."""


def with_breaths(arrangement: Arrangement, wishes: Wishes) -> Arrangement:
    """The arrangement with its breaths: those written or wished, and what else is needed.

    A breath that the source writes has the origin `WRITTEN`; it goes where none is wished.
    """
    tune, voice = arrangement.tune, arrangement.voice
    if voice >= len(tune.voices):
        return arrangement
    end = _ends_of_ties(tune, voice)
    never = {end[id_] for id_, breathe in wishes.breaths.items() if id_ in end and not breathe}
    wished = {end[id_] for id_, breathe in wishes.breaths.items() if id_ in end and breathe}
    marked_notes = (note.id for note in tune.voices[voice].notes if MARK in note.decorations)
    written = {end[id_] for id_ in marked_notes} - never
    planned = plan_breaths(arrangement, wished | written, never).marks
    marks = tuple(
        replace(mark, origin=Origin.WRITTEN) if mark.note_id in written - wished else mark
        for mark in planned
    )
    marked = _marked(tune, voice, {mark.note_id for mark in marks})
    return replace(arrangement, tune=marked, breaths=marks)


def _ends_of_ties(tune: Tune, voice: int) -> dict[str, str]:
    """For each note as it stands the last one that ties join to it: nobody breathes before."""
    notes = list(tune.voices[voice].notes)
    found: dict[str, str] = {}
    last: Note | None = None
    for note in reversed(notes):
        goes_on = last is not None and note.tied and last.pitch == note.pitch and not last.graces
        found[note.id] = found[last.id] if goes_on and last is not None else note.id
        last = note
    return found


def _marked(tune: Tune, voice: int, ids: Collection[str]) -> Tune:
    """The tune with the sign on these notes and on no other."""
    mine = tune.voices[voice]
    bars = tuple(_bar(bar, ids) for bar in mine.bars)
    if all(one is two for one, two in zip(bars, mine.bars, strict=True)):
        return tune
    voices = (*tune.voices[:voice], replace(mine, bars=bars), *tune.voices[voice + 1 :])
    return replace(tune, voices=voices)


def _bar(bar: Bar, ids: Collection[str]) -> Bar:
    if not any((note.id in ids) != (MARK in note.decorations) for note in bar.notes):
        return bar
    events = tuple(
        _note(event, event.id in ids) if isinstance(event, Note) else event for event in bar.events
    )
    return replace(bar, events=events)


def _note(note: Note, breathe: bool) -> Note:
    if breathe == (MARK in note.decorations):
        return note
    left = tuple(each for each in note.decorations if each != MARK)
    return replace(note, decorations=(*left, MARK) if breathe else left)
