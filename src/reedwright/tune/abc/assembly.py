"""From drafts to the model: ids, fractions, and bars that no longer change."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

from reedwright.tune.abc.drafts import BarDraft, EventDraft, NoteDraft
from reedwright.tune.abc.symbols import MARK_ORDER, NAVIGATION
from reedwright.tune.model import Bar, Event, Grace, Note, Place, Rest


@lru_cache(maxsize=8192)
def _fraction(top: int, bottom: int) -> Fraction:
    return Fraction(top, bottom)


_UNTIED = (False,)


class Assembler:
    """Builds the bars of one voice.

    Ids: notes `n1`, `n2`..., rests `r1`..., those of overlays `on1`, `or1`; graces `n5g1`; `prefix`
    stands before them all (`v2n1`).
    """

    def __init__(self, prefix: str) -> None:
        self.prefix = prefix
        self.counts = {"n": 0, "r": 0, "on": 0, "or": 0}

    def bars(self, drafts: list[BarDraft]) -> tuple[Bar, ...]:
        return tuple(self._bar(index, draft) for index, draft in enumerate(drafts))

    def _bar(self, index: int, draft: BarDraft) -> Bar:
        marks = list(draft.marks)
        events = self._events(draft.events, "", marks)
        overlays = tuple(self._events(layer, "o", marks) for layer in draft.overlays if layer)
        first = events[0].place if events else draft.place
        return Bar(
            index,
            draft.number,
            events,
            draft.key,
            draft.meter,
            first,
            draft.opening,
            draft.closing,
            draft.repeat_open,
            draft.repeat_close,
            draft.ending,
            draft.ending_last,
            draft.part,
            tuple(m for m in MARK_ORDER if m in marks) if marks else (),
            draft.line_end,
            overlays,
        )

    def _events(self, drafts: list[EventDraft], layer: str, marks: list[str]) -> tuple[Event, ...]:
        events: list[Event] = []
        for draft in drafts:
            if type(draft) is not NoteDraft:
                events.append(draft)  # type: ignore[arg-type]
                continue
            if draft.decorations and not NAVIGATION.keys().isdisjoint(draft.decorations):
                marks += [NAVIGATION[n] for n in draft.decorations if n in NAVIGATION]
                draft.decorations = tuple(n for n in draft.decorations if n not in NAVIGATION)
            events.append(self._note(draft, layer) if draft.pitches else self._rest(draft, layer))
        return tuple(events)

    def _note(self, draft: NoteDraft, layer: str) -> Note:
        kind = layer + "n"
        count = self.counts[kind] + 1
        self.counts[kind] = count
        name = f"{self.prefix}{kind}{count}"
        tuplet = draft.tuplet
        top, bottom = draft.top, draft.bottom
        joined = draft.beamed
        beamed = joined is not None and top < bottom and joined.top < joined.bottom
        if tuplet is not None:
            top *= tuplet.normal
            bottom *= tuplet.actual
        graces: tuple[Grace, ...] = ()
        if draft.graces:
            graces = tuple(
                Grace(f"{name}g{i}", g.pitch, _fraction(g.top, g.bottom), Place(g.line, g.column))
                for i, g in enumerate(draft.graces, 1)
            )
        pitches = draft.pitches
        if draft.ties is not None:
            ties = tuple(draft.ties)
        else:
            ties = _UNTIED if len(pitches) == 1 else (False,) * len(pitches)
        return Note(
            name,
            pitches,
            _fraction(top, bottom),
            Place(draft.line, draft.column),
            ties,
            tuplet,
            graces,
            draft.slashed,
            draft.slurs_open,
            draft.slurs_close,
            draft.decorations,
            draft.chord_symbol,
            draft.annotations,
            tuple(draft.lyrics) if draft.lyrics else (),
            beamed,
            draft.explicit,
        )

    def _rest(self, draft: NoteDraft, layer: str) -> Rest:
        kind = layer + "r"
        count = self.counts[kind] + 1
        self.counts[kind] = count
        tuplet = draft.tuplet
        top, bottom = draft.top, draft.bottom
        if tuplet is not None:
            top *= tuplet.normal
            bottom *= tuplet.actual
        return Rest(
            f"{self.prefix}{kind}{count}",
            _fraction(top, bottom),
            Place(draft.line, draft.column),
            draft.visible,
            draft.whole_bar,
            tuplet,
            draft.decorations,
            draft.chord_symbol,
            draft.annotations,
        )
