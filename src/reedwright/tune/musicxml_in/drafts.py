"""What one measure holds while it is being read, and the bars that come of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element

from reedwright.tune.model import (
    Annotation,
    Bar,
    BarLine,
    Change,
    Event,
    Grace,
    Key,
    Meter,
    Note,
    Pitch,
    Place,
    Rest,
    Tuplet,
)
from reedwright.tune.musicxml_in import notes
from reedwright.tune.musicxml_in.attributes import BEAT_UNITS, text_of


@dataclass(slots=True)
class EventDraft:
    """A note, chord or rest whose further pitches are still to come."""

    id: str
    element: Element
    position: Fraction  # quarter notes from the start of the measure
    length: Fraction
    place: Place
    pitches: list[Pitch] = field(default_factory=list)
    ties: list[bool] = field(default_factory=list)
    graces: list[Grace] = field(default_factory=list)
    slashed: bool = False
    slurs_open: int = 0
    slurs_close: int = 0
    chord_symbol: str = ""
    annotations: list[Annotation] = field(default_factory=list)
    decorations: list[str] = field(default_factory=list)
    silent: bool = False

    def built(self, tuplet: Tuplet | None) -> Note | Rest:
        element = self.element
        decorations = tuple(dict.fromkeys((*notes.decorations(element), *self.decorations)))
        if not self.pitches:
            rest = element.find("rest")
            return Rest(
                self.id,
                self.length,
                self.place,
                visible=element.get("print-object") != "no" and not self.silent,
                whole_bar=rest is not None and rest.get("measure") == "yes",
                tuplet=tuplet,
                decorations=decorations,
                chord_symbol=self.chord_symbol,
                annotations=tuple(self.annotations),
            )
        beam = text_of(element, "beam")
        opened, closed = notes.slurs(element)
        return Note(
            self.id,
            tuple(self.pitches),
            self.length,
            self.place,
            ties=tuple(self.ties),
            tuplet=tuplet,
            graces=tuple(self.graces),
            slashed=self.slashed,
            slurs_open=self.slurs_open + opened,
            slurs_close=self.slurs_close + closed,
            decorations=decorations,
            chord_symbol=self.chord_symbol,
            annotations=tuple(self.annotations),
            lyrics=notes.lyrics(element),
            beamed=beam in ("begin", "continue"),
            explicit=element.find("accidental") is not None,
        )


@dataclass(slots=True)
class MeasureDraft:
    """One measure of a part: its signs, and its events by (staff, voice)."""

    number: int
    key: Key
    meter: Meter
    place: Place
    voices: dict[tuple[str, str], list[EventDraft]] = field(default_factory=dict)
    changes: list[tuple[Fraction, Change]] = field(default_factory=list)
    length: Fraction = Fraction(0)
    opening: BarLine = BarLine.NONE
    closing: BarLine = BarLine.SINGLE
    repeat_open: bool = False
    repeat_close: int = 0
    ending: tuple[int, ...] = ()
    ending_last: bool = False
    part: str | None = None
    marks: list[str] = field(default_factory=list)
    line_end: bool = False

    def bar(
        self, index: int, voice: tuple[str, str], overlaid: Sequence[tuple[str, str]], ids: str
    ) -> Bar:
        """The bar of one voice; where it says nothing the bar is an unseen rest."""
        layers = [
            self._events(self.voices[other], f"{ids}{index}o{place}", ())
            for place, other in enumerate(overlaid)
            if other in self.voices
        ]
        return Bar(
            index=index,
            number=self.number,
            events=self._events(self.voices.get(voice, []), f"{ids}{index}", self.changes),
            key=self.key,
            meter=self.meter,
            place=self.place,
            opening=self.opening,
            closing=self.closing,
            repeat_open=self.repeat_open,
            repeat_close=self.repeat_close,
            ending=self.ending,
            ending_last=self.ending_last,
            part=self.part,
            marks=tuple(dict.fromkeys(self.marks)),
            line_end=self.line_end,
            overlays=tuple(layers),
        )

    def _events(
        self,
        drafts: list[EventDraft],
        ids: str,
        changes: Sequence[tuple[Fraction, Change]],
    ) -> tuple[Event, ...]:
        """Events in order, gaps filled with unseen rests, changes put where they stand."""
        drafts = sorted(drafts, key=lambda draft: draft.position)
        events: list[Event] = []
        pending = list(changes)
        now = Fraction(0)

        def fill(upto: Fraction) -> None:
            nonlocal now
            if upto > now:
                rest = Rest(f"{ids}f{len(events)}", upto - now, self.place, visible=False)
                events.append(rest)
                now = upto

        for draft, tuplet in zip(drafts, _tuplets(drafts), strict=True):
            while pending and pending[0][0] <= draft.position:
                position, change = pending.pop(0)
                fill(position)
                events.append(change)
            fill(draft.position)
            events.append(draft.built(tuplet))
            now += draft.length
        fill(self.length)
        events += [change for _, change in pending]
        return tuple(events)


def _tuplets(drafts: list[EventDraft]) -> list[Tuplet | None]:
    """Which notes belong together: by their brackets, else by when the group is full."""
    ratios = [notes.tuplet_ratio(draft.element) for draft in drafts]
    result: list[Tuplet | None] = [None] * len(drafts)
    k = 0
    while k < len(drafts):
        ratio = ratios[k]
        if ratio is None:
            k += 1
            continue
        stop, filled = k, Fraction(0)
        full = _group_length(drafts[k], ratio)
        while stop < len(drafts) and ratios[stop] == ratio:
            if stop > k and _bracket(drafts[stop], "start"):
                break
            filled += drafts[stop].length
            stop += 1
            if _bracket(drafts[stop - 1], "stop") or (
                filled >= full and not _bracket(drafts[k], "start")
            ):
                break
        for member in range(k, stop):
            result[member] = Tuplet(*ratio, first=member == k, last=member == stop - 1)
        k = stop
    return result


def _bracket(draft: EventDraft, kind: str) -> bool:
    return any(t.get("type") == kind for t in draft.element.findall("notations/tuplet"))


def _group_length(draft: EventDraft, ratio: tuple[int, int]) -> Fraction:
    base = BEAT_UNITS.get(text_of(draft.element, "time-modification/normal-type"))
    base = base or BEAT_UNITS.get(text_of(draft.element, "type"))
    if base is None:
        base = draft.length * ratio[0] / ratio[1]
    return base * ratio[1]
