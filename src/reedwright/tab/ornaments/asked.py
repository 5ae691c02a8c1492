"""What ornaments are asked of each note: those written, but for what wishes say.

Public: `asked_demands`, `without_unwanted`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace

from reedwright.tab.ornaments.model import Amount, OrnamentKind
from reedwright.tab.ornaments.playable import (
    DECORATIONS,
    Demand,
    demands_of,
    written_demands,
)
from reedwright.tab.wishes import Wishes
from reedwright.tune.model import Bar, Note, Tune


def asked_demands(
    wishes: Wishes, more: Mapping[str, OrnamentKind] | None = None
) -> Callable[[Note], tuple[Demand, ...]]:
    """For each note of a tune from `without_unwanted`, what its ornaments demand.

    `more`: kinds by note id that were added to what is written and wished.
    """
    placed = {id_: kind for id_, kind in wishes.ornaments.items() if kind is not None}
    placed.update(more or {})
    if not placed:
        return written_demands

    def demands(note: Note) -> tuple[Demand, ...]:
        kind = placed.get(note.id)
        return written_demands(note) if kind is None else demands_of(kind)

    return demands


def without_unwanted(tune: Tune, voice: int, wishes: Wishes) -> Tune:
    """The tune without the written ornaments that wishes take away or put others in place of."""
    none_at_all = wishes.amount is Amount.NONE
    if voice >= len(tune.voices) or not (none_at_all or wishes.ornaments):
        return tune
    mine = tune.voices[voice]
    bars = tuple(_bar(bar, none_at_all, wishes) for bar in mine.bars)
    voices = (*tune.voices[:voice], replace(mine, bars=bars), *tune.voices[voice + 1 :])
    return replace(tune, voices=voices)


def _bar(bar: Bar, none_at_all: bool, wishes: Wishes) -> Bar:
    events = tuple(
        bare(event)
        if isinstance(event, Note) and (none_at_all or event.id in wishes.ornaments)
        else event
        for event in bar.events
    )
    return bar if events == bar.events else replace(bar, events=events)


def bare(note: Note) -> Note:
    """The note without grace notes and ornaments; its other decorations stay."""
    if not note.graces and not any(each in DECORATIONS for each in note.decorations):
        return note
    left = tuple(each for each in note.decorations if each not in DECORATIONS)
    return replace(note, graces=(), slashed=False, decorations=left)
