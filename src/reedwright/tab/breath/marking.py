"""Breath marks put into an arrangement: planned, kept in `breaths`, and written on the notes.

Public: `with_breaths`.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from reedwright.tab.arrangement import Arrangement
from reedwright.tab.breath.plan import plan_breaths
from reedwright.tab.ornaments.model import Origin
from reedwright.tune.model import Bar, Event, Note, Tune

SIGN = "breath"
"""The decoration of the note before a breath, as the ABC standard names it."""


def with_breaths(
    arrangement: Arrangement, wishes: Mapping[str, bool], propose: bool = True
) -> Arrangement:
    """The arrangement with breath marks, in its list and on the notes of its dressed tune.

    `wishes`: by id of a written note, a breath after it (True) or never there (False).
    `propose`: whether marks are proposed besides the teacher's. A mark that the source
    writes itself is a wish for one, unless the teacher wants none there; its origin is `WRITTEN`.
    """
    written = _written(arrangement)
    never = {id_ for id_, wanted in wishes.items() if not wanted}
    always = {id_ for id_, wanted in wishes.items() if wanted} | (written - never)
    everything = _ids(arrangement) if not propose else set()
    plan = plan_breaths(arrangement, always, (never | everything) - always)
    marked = plan.note_ids
    tune = arrangement.tune
    if marked != written:
        tune = _decorated(tune, arrangement.voice, marked)
    undressed = arrangement.plain if tune is not arrangement.tune else arrangement.undressed
    asked = {id_ for id_, wanted in wishes.items() if wanted}
    marks = tuple(
        replace(mark, origin=Origin.WRITTEN) if mark.note_id in written - asked else mark
        for mark in plan.marks
    )
    return replace(arrangement, tune=tune, undressed=undressed, breaths=marks)


def _bars(arrangement: Arrangement) -> tuple[Bar, ...]:
    voices = arrangement.tune.voices
    return voices[arrangement.voice].bars if arrangement.voice < len(voices) else ()


def _ids(arrangement: Arrangement) -> set[str]:
    return {note.id for bar in _bars(arrangement) for note in bar.notes}


def _written(arrangement: Arrangement) -> set[str]:
    return {note.id for bar in _bars(arrangement) for note in bar.notes if SIGN in note.decorations}


def _decorated(tune: Tune, voice: int, marked: Collection[str]) -> Tune:
    """The tune with the sign on these notes and no others."""

    def event_of(event: Event) -> Event:
        if not isinstance(event, Note) or (event.id in marked) == (SIGN in event.decorations):
            return event
        others = tuple(each for each in event.decorations if each != SIGN)
        return replace(event, decorations=(*others, SIGN) if event.id in marked else others)

    mine = tune.voices[voice]
    bars = []
    for bar in mine.bars:
        events = tuple(map(event_of, bar.events))
        changed = any(a is not b for a, b in zip(events, bar.events, strict=True))
        bars.append(replace(bar, events=events) if changed else bar)
    voices = (*tune.voices[:voice], replace(mine, bars=tuple(bars)), *tune.voices[voice + 1 :])
    return replace(tune, voices=voices)
