"""A tune played out: every bar, written note and sounding pitch in the order of playing.

Public: `unfold`, `written_beats`, `Performance`, `PlayedBar`, `PlayedNote`,
`SoundingNote`. The order of the bars is worked out in `playorder`.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm
from typing import NamedTuple

from reedwright.tune.model import Bar, Change, Event, Meter, Note, Pitch, Tune
from reedwright.tune.playorder import play_order


class PlayedBar(NamedTuple):
    """One bar as it is played: when it starts (quarter notes) and on which pass (from 1)."""

    bar: Bar
    onset: Fraction
    pass_number: int


class PlayedNote(NamedTuple):
    """One written note as it is played once.

    `onset` in quarter notes from the start of the tune, `beat` from 1 in notated
    beats of the bar (an anacrusis counts from where it would stand in a full bar).
    `continues`: it is the rest of a tie, not sounded anew.
    """

    note: Note
    bar: Bar
    onset: Fraction
    beat: Fraction
    pass_number: int
    continues: bool

    @property
    def held(self) -> bool:
        """Whether it is only held on by the player: a grace note in a tie sounds it anew."""
        return self.continues and not self.note.graces


class SoundingNote(NamedTuple):
    """One pitch from its start to its end, ties joined. Quarter notes."""

    pitch: Pitch
    onset: Fraction
    length: Fraction
    note: Note


@dataclass(frozen=True, slots=True)
class Performance:
    """A tune played out. `length` is in quarter notes.

    `notes` are those of the voice; `sounding`, by onset and then pitch, has every
    pitch of its chords and of its overlays as well.
    """

    bars: tuple[PlayedBar, ...]
    notes: tuple[PlayedNote, ...]
    sounding: tuple[SoundingNote, ...]
    length: Fraction


def unfold(tune: Tune, voice: int = 0) -> Performance:
    """Play out one voice of a tune: repeats, endings, part order, jumps and ties.

    A tie joins a note to the next one that is played, so it holds into a second
    ending too, as long as that note follows at once and has the pitch; a tie that
    meets no such note is passed over. A tune without that voice is empty.

    Raises `EndlessTune` where repeats multiply without sense.
    """
    if not 0 <= voice < len(tune.voices):
        return Performance((), (), (), Fraction(0))
    bars = tune.voices[voice].bars
    for known in tuple(_LATELY):  # others may add to it meanwhile
        if known.bars is bars and known.part_order == tune.part_order:
            return known.performance
    found = _unfold(bars, tune.part_order)
    _LATELY.append(_Unfolded(bars, tune.part_order, found))
    return found


class _Unfolded(NamedTuple):
    bars: tuple[Bar, ...]
    part_order: tuple[str, ...]
    performance: Performance


# One tune is looked at from many sides one after another: graded, counted, timed, told in words.
_LATELY: deque[_Unfolded] = deque(maxlen=6)


def _unfold(bars: tuple[Bar, ...], part_order: tuple[str, ...]) -> Performance:
    per_quarter = _per_quarter(bars)
    laid_out = _lay_out(bars, per_quarter)
    played_bars: list[PlayedBar] = []
    played_notes: list[PlayedNote] = []
    sounds = _Sounds(per_quarter)
    now = 0  # in ticks, of which `per_quarter` make a quarter note
    for index, pass_number in play_order(bars, part_order):
        written = laid_out[index]
        bar = written.bar
        played_bars.append(PlayedBar(bar, _quarters(now, per_quarter), pass_number))
        for offset, ticks, note, beat, pitch in written.notes:
            onset = _quarters(now + offset, per_quarter)
            if pitch is not None and not sounds.held:  # nearly all notes; this loop is the hot one
                sounds.all.append(SoundingNote(pitch, onset, note.length, note))
                continues = False
            else:
                continues = sounds.add(0, note, now + offset, onset, ticks)
            played_notes.append(PlayedNote(note, bar, onset, beat, pass_number, continues))
        for layer, offset, ticks, note in written.overlaid:
            onset = _quarters(now + offset, per_quarter)
            sounds.add(layer, note, now + offset, onset, ticks)
        now += written.ticks
    return Performance(
        tuple(played_bars), tuple(played_notes), sounds.in_order(), _quarters(now, per_quarter)
    )


def written_beats(tune: Tune, voice: int = 0) -> dict[str, Fraction]:
    """Where each note stands in its printed bar, by id: in notated beats from 1.

    As `PlayedNote.beat`, for all that is written; empty for a voice that is not there.
    """
    bars = tune.voices[voice].bars if 0 <= voice < len(tune.voices) else ()
    laid_out = _lay_out(bars, _per_quarter(bars))
    return {note.id: beat for written in laid_out for _, _, note, beat, _ in written.notes}


@lru_cache(maxsize=65536)
def _quarters(ticks: int, per_quarter: int) -> Fraction:
    """Ticks as quarter notes. Making a Fraction is slow, and the same few come again and again."""
    return Fraction(ticks, per_quarter)


class _WrittenBar(NamedTuple):
    """A bar in ticks. Notes as (offset, length, note, beat, its pitch if it is the only one
    and not tied on); overlaid notes as (layer, offset, length, note)."""

    bar: Bar
    ticks: int
    notes: list[tuple[int, int, Note, Fraction, Pitch | None]]
    overlaid: list[tuple[int, int, int, Note]]


def _per_quarter(bars: tuple[Bar, ...]) -> int:
    """The fewest ticks to a quarter note in which every length is whole."""
    denominators = {
        event.length.denominator
        for bar in bars
        for layer in (bar.events, *bar.overlays)
        for event in layer
        if not isinstance(event, Change)
    }
    return lcm(*denominators)


def _lay_out(bars: tuple[Bar, ...], per_quarter: int) -> list[_WrittenBar]:
    laid_out: list[_WrittenBar] = []
    shift = 0
    before: _WrittenBar | None = None
    meter: Meter | None = None
    per_beat, beat_parts, full = 1, 1, 0
    for bar in bars:
        if bar.meter is not meter:
            meter = bar.meter
            beat_length = meter.beat_length
            per_beat = per_quarter * beat_length.numerator
            beat_parts = beat_length.denominator
            full = int((meter.bar_length or 0) * per_quarter)
        notes, ticks = _place(bar.events, per_quarter)
        overlaid: list[tuple[int, int, int, Note]] = []
        for layer, events in enumerate(bar.overlays, start=1):
            placed, layer_ticks = _place(events, per_quarter)
            overlaid += [(layer, offset, length, note) for offset, length, note in placed]
            ticks = max(ticks, layer_ticks)
        if before is not None and before.bar.number == bar.number:
            shift += before.ticks  # the second half of a bar that a bar line cuts
        elif bar.number == 0:
            shift = max(0, full - ticks)  # an anacrusis starts later than a full bar would
        else:
            shift = 0
        in_beats = [
            (
                offset,
                length,
                note,
                _beat((shift + offset) * beat_parts, per_beat),
                None if len(note.pitches) > 1 or note.ties[0] else note.pitches[0],
            )
            for offset, length, note in notes
        ]
        before = _WrittenBar(bar, ticks, in_beats, overlaid)
        laid_out.append(before)
    return laid_out


@lru_cache(maxsize=4096)
def _beat(ticks: int, per_beat: int) -> Fraction:
    return 1 + Fraction(ticks, per_beat)


def _place(events: tuple[Event, ...], per_quarter: int) -> tuple[list[tuple[int, int, Note]], int]:
    """Notes of one layer as (offset, length, note) in ticks, and the ticks in all."""
    placed: list[tuple[int, int, Note]] = []
    offset = 0
    for event in events:
        if isinstance(event, Change):
            continue
        length = event.length
        ticks = length.numerator * (per_quarter // length.denominator)
        if isinstance(event, Note):
            placed.append((offset, ticks, event))
        offset += ticks
    return placed, offset


class _Held(NamedTuple):
    """A tied pitch that waits for its next note."""

    midi: int
    end: int  # in ticks
    ticks: int  # its length so far
    place: int  # among the sounds


class _Sounds:
    """The pitches that sound, tied notes joined in the order of playing, layer by layer.

    `all` holds them, `held` the pitches of each layer that wait for the end of a tie.
    """

    def __init__(self, per_quarter: int) -> None:
        self._per_quarter = per_quarter
        self.all: list[SoundingNote] = []
        self.held: dict[int, list[_Held]] = {}
        self._in_order = True

    def add(self, layer: int, note: Note, tick: int, onset: Fraction, ticks: int) -> bool:
        """Sound a note or chord; whether its melody note is held over from before."""
        if layer or len(note.pitches) > 1:
            self._in_order = False
        waiting = [held for held in self.held.pop(layer, ()) if held.end == tick]
        holding: list[_Held] = []
        melody, continues = -1, False
        for k, pitch in enumerate(note.pitches):
            midi = pitch.midi
            before = next((held for held in waiting if held.midi == midi), None)
            if before is None:
                held = _Held(midi, tick + ticks, ticks, len(self.all))
                self.all.append(SoundingNote(pitch, onset, note.length, note))
            else:
                waiting.remove(before)
                held = _Held(midi, tick + ticks, before.ticks + ticks, before.place)
                length = _quarters(held.ticks, self._per_quarter)
                self.all[held.place] = self.all[held.place]._replace(length=length)
            if midi > melody:
                melody, continues = midi, before is not None
            if k < len(note.ties) and note.ties[k]:
                holding.append(held)
        if holding:
            self.held[layer] = holding
        return continues

    def in_order(self) -> tuple[SoundingNote, ...]:
        """All pitches, by onset and then from low to high."""
        if not self._in_order:
            self.all.sort(key=lambda sound: (sound.onset, sound.pitch.midi))
        return tuple(self.all)
