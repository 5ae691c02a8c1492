"""A tune played out: every bar, written note and sounding pitch in the order of playing.

Public: `unfold`, `Performance`, `PlayedBar`, `PlayedNote`, `SoundingNote`. The
order of the bars is worked out in `playorder`.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from math import lcm
from typing import NamedTuple

from reedwright.tune.model import Bar, Change, Event, Note, Pitch, Tune
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
    per_quarter = _per_quarter(bars)
    laid_out = _lay_out(bars, per_quarter)
    played_bars: list[PlayedBar] = []
    played_notes: list[PlayedNote] = []
    ties = _Ties()
    now = 0  # in ticks, of which `per_quarter` make a quarter note
    for index, pass_number in play_order(bars, tune.part_order):
        written = laid_out[index]
        bar = written.bar
        played_bars.append(PlayedBar(bar, _quarters(now, per_quarter), pass_number))
        for offset, ticks, note, beat in written.notes:
            onset = now + offset
            continues = ties.sound(0, note, onset, ticks)
            played_notes.append(
                PlayedNote(note, bar, _quarters(onset, per_quarter), beat, pass_number, continues)
            )
        for layer, offset, ticks, note in written.overlaid:
            ties.sound(layer, note, now + offset, ticks)
        now += written.ticks
    return Performance(
        tuple(played_bars),
        tuple(played_notes),
        ties.sounding(per_quarter),
        _quarters(now, per_quarter),
    )


@lru_cache(maxsize=65536)
def _quarters(ticks: int, per_quarter: int) -> Fraction:
    """Ticks as quarter notes. Making a Fraction is slow, and the same few come again and again."""
    return Fraction(ticks, per_quarter)


class _WrittenBar(NamedTuple):
    """A bar in ticks. Notes as (offset, length, note, beat), overlaid ones by their layer."""

    bar: Bar
    ticks: int
    notes: list[tuple[int, int, Note, Fraction]]
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
    for bar in bars:
        notes, ticks = _place(bar.events, per_quarter)
        overlaid: list[tuple[int, int, int, Note]] = []
        for layer, events in enumerate(bar.overlays, start=1):
            placed, layer_ticks = _place(events, per_quarter)
            overlaid += [(layer, offset, length, note) for offset, length, note in placed]
            ticks = max(ticks, layer_ticks)
        if before is not None and before.bar.number == bar.number:
            shift += before.ticks  # the second half of a bar that a bar line cuts
        else:
            shift = _missing_before(bar, ticks, per_quarter)
        beat_length = bar.meter.beat_length
        numerator, denominator = beat_length.numerator, beat_length.denominator
        in_beats = [
            (
                offset,
                length,
                note,
                _beat((shift + offset) * denominator, per_quarter * numerator),
            )
            for offset, length, note in notes
        ]
        before = _WrittenBar(bar, ticks, in_beats, overlaid)
        laid_out.append(before)
    return laid_out


@lru_cache(maxsize=4096)
def _beat(ticks: int, per_beat: int) -> Fraction:
    return 1 + Fraction(ticks, per_beat)


def _missing_before(bar: Bar, ticks: int, per_quarter: int) -> int:
    """Ticks by which an anacrusis starts later than a full bar would."""
    full = bar.meter.bar_length
    if bar.number != 0 or full is None:
        return 0
    return max(0, int(full * per_quarter) - ticks)


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


class _Sound:
    """A pitch that is sounding, in ticks; it grows where a tie goes on."""

    __slots__ = ("length", "midi", "note", "onset", "pitch")

    def __init__(self, pitch: Pitch, midi: int, onset: int, length: int, note: Note) -> None:
        self.pitch = pitch
        self.midi = midi
        self.onset = onset
        self.length = length
        self.note = note


class _Ties:
    """Joins tied notes in the order in which they are played, each layer for itself."""

    def __init__(self) -> None:
        self._sounds: list[_Sound] = []
        self._held: dict[int, list[_Sound]] = {}

    def sound(self, layer: int, note: Note, onset: int, length: int) -> bool:
        """Sound a note or chord; whether its melody note is held over from before."""
        held = self._held.pop(layer, None)
        pitches = note.pitches
        if len(pitches) == 1:
            midi = pitches[0].midi
            sound = self._one(held, pitches[0], midi, onset, length, note)
            if note.ties[0]:
                self._held[layer] = [sound]
            return sound.onset != onset
        tied: list[_Sound] = []
        melody, continues = -1, False
        for k, pitch in enumerate(pitches):
            midi = pitch.midi
            sound = self._one(held, pitch, midi, onset, length, note)
            if midi > melody:
                melody, continues = midi, sound.onset != onset
            if k < len(note.ties) and note.ties[k]:
                tied.append(sound)
        if tied:
            self._held[layer] = tied
        return continues

    def _one(
        self,
        held: list[_Sound] | None,
        pitch: Pitch,
        midi: int,
        onset: int,
        length: int,
        note: Note,
    ) -> _Sound:
        for sound in held or ():
            if sound.midi == midi and sound.onset + sound.length == onset:
                sound.length += length
                return sound
        sound = _Sound(pitch, midi, onset, length, note)
        self._sounds.append(sound)
        return sound

    def sounding(self, per_quarter: int) -> tuple[SoundingNote, ...]:
        """All pitches, by onset and then from low to high."""
        self._sounds.sort(key=lambda sound: (sound.onset, sound.midi))
        return tuple(
            SoundingNote(
                sound.pitch,
                _quarters(sound.onset, per_quarter),
                _quarters(sound.length, per_quarter),
                sound.note,
            )
            for sound in self._sounds
        )
