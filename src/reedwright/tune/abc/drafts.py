"""What the music-line parser builds: notes and bars that still change while lines are read.

A dotted note is known only when `>` comes after it, a tie's other end, a syllable
and a repeat's end come later still. Lengths are kept as pairs of whole numbers
(quarter notes), which is much faster than `Fraction`, and become fractions at the end.
"""

from __future__ import annotations

from reedwright.tune.model import (
    Annotation,
    BarLine,
    Change,
    Key,
    Lyric,
    Meter,
    Pitch,
    Place,
    Tuplet,
)


class NoteDraft:
    """A note, chord or rest (no pitches). `top` / `bottom`: quarter notes, tuplet not applied."""

    __slots__ = (
        "annotations",
        "beamed",
        "bottom",
        "chord_symbol",
        "column",
        "decorations",
        "explicit",
        "graces",
        "line",
        "lyrics",
        "pitches",
        "slashed",
        "slurs_close",
        "slurs_open",
        "ties",
        "top",
        "tuplet",
        "visible",
        "whole_bar",
    )

    def __init__(
        self, pitches: tuple[Pitch, ...], top: int, bottom: int, line: int, column: int
    ) -> None:
        self.pitches = pitches
        self.top = top
        self.bottom = bottom
        self.line = line
        self.column = column
        self.beamed: NoteDraft | None = None
        self.ties: list[bool] | None = None
        self.tuplet: Tuplet | None = None
        self.graces: tuple[GraceDraft, ...] = ()
        self.slashed = False
        self.slurs_open = 0
        self.slurs_close = 0
        self.decorations: tuple[str, ...] = ()
        self.chord_symbol = ""
        self.annotations: tuple[Annotation, ...] = ()
        self.lyrics: list[Lyric | None] | None = None
        self.explicit = False
        self.visible = True
        self.whole_bar = False


class GraceDraft:
    """A grace note; `top` / `bottom`: its written length in quarter notes."""

    __slots__ = ("bottom", "column", "line", "pitch", "top")

    def __init__(self, pitch: Pitch, top: int, bottom: int, line: int, column: int) -> None:
        self.pitch = pitch
        self.top = top
        self.bottom = bottom
        self.line = line
        self.column = column


EventDraft = NoteDraft | Change


class BarDraft:
    """A bar being filled. `open_times`: what a start repeat says of how often it is played."""

    __slots__ = (
        "closing",
        "ending",
        "ending_last",
        "events",
        "key",
        "line_end",
        "marks",
        "meter",
        "number",
        "open_times",
        "opening",
        "overlays",
        "part",
        "place",
        "repeat_close",
        "repeat_open",
    )

    def __init__(self, place: Place, key: Key, meter: Meter) -> None:
        self.events: list[EventDraft] = []
        self.overlays: list[list[EventDraft]] = []
        self.place = place
        self.key = key
        self.meter = meter
        self.opening = BarLine.NONE
        self.closing = BarLine.NONE
        self.repeat_open = False
        self.open_times = 0
        self.repeat_close = 0
        self.ending: tuple[int, ...] = ()
        self.ending_last = False
        self.part: str | None = None
        self.marks: list[str] = []
        self.line_end = False
        self.number = 0

    @property
    def filled(self) -> bool:
        """Whether any note or rest stands in it."""
        for event in self.events:
            if type(event) is NoteDraft:
                return True
        return any(type(e) is NoteDraft for layer in self.overlays for e in layer)

    def settle_layers(self) -> None:
        """Leave empty layers out; the first that has notes is the bar itself."""
        layers: list[list[EventDraft]] = []
        for layer in self.overlays:
            if any(type(e) is NoteDraft for e in layer):
                layers.append(layer)
            else:
                self.events = self.events + layer  # a change alone is no layer
        if layers and not any(type(e) is NoteDraft for e in self.events):
            self.events = self.events + layers.pop(0)
        self.overlays = layers


def length_of(events: list[EventDraft]) -> tuple[int, int]:
    """Quarter notes that a list of events lasts, as a reduced-enough pair."""
    top, bottom = 0, 1
    for event in events:
        if type(event) is NoteDraft:
            a, b = event.top, event.bottom
            tuplet = event.tuplet
            if tuplet is not None:
                a *= tuplet.normal
                b *= tuplet.actual
            if b == bottom:
                top += a
            elif bottom % b == 0:
                top += a * (bottom // b)
            elif b % bottom == 0:
                top = top * (b // bottom) + a
                bottom = b
            else:
                top = top * b + a * bottom
                bottom *= b
    return top, bottom
