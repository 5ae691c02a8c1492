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

TRILL_OPENS, TRILL_CLOSES = "trill(", "trill)"  # ABC 2.1, 4.14: a trill over several notes


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
    """The tune without the written ornaments that wishes take away or put others in place of.

    A trill that is written over several notes then stands on each of them.
    """
    if voice >= len(tune.voices):
        return tune
    mine = tune.voices[voice]
    asked = _Asked(wishes)
    bars = tuple(asked.bar(bar) for bar in mine.bars)
    if all(one is two for one, two in zip(bars, mine.bars, strict=True)):
        return tune
    voices = (*tune.voices[:voice], replace(mine, bars=bars), *tune.voices[voice + 1 :])
    return replace(tune, voices=voices)


class _Asked:
    """Goes through the notes in written order."""

    def __init__(self, wishes: Wishes) -> None:
        self._none_at_all = wishes.amount is Amount.NONE
        self._ornaments = wishes.ornaments
        self._trilled = False

    def bar(self, bar: Bar) -> Bar:
        events = tuple(self._note(e) if isinstance(e, Note) else e for e in bar.events)
        same = all(one is two for one, two in zip(events, bar.events, strict=True))
        return bar if same else replace(bar, events=events)

    def _note(self, note: Note) -> Note:
        self._trilled = self._trilled or TRILL_OPENS in note.decorations
        trilled = self._trilled
        self._trilled = trilled and TRILL_CLOSES not in note.decorations
        if self._none_at_all or note.id in self._ornaments:
            return bare(note)
        if not trilled and TRILL_CLOSES not in note.decorations:
            return note
        left = [each for each in note.decorations if each not in (TRILL_OPENS, TRILL_CLOSES)]
        more = ["trill"] if trilled and "trill" not in left else []
        return replace(note, decorations=(*left, *more))


def bare(note: Note) -> Note:
    """The note without grace notes and ornaments; its other decorations stay."""
    signs = {*DECORATIONS, TRILL_OPENS, TRILL_CLOSES}
    if not note.graces and not any(each in signs for each in note.decorations):
        return note
    left = tuple(each for each in note.decorations if each not in signs)
    return replace(note, graces=(), slashed=False, decorations=left)
