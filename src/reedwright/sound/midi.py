"""MIDI: the tune as played out, as it is written or with its cuts.

Public: `write_midi`.
"""

from __future__ import annotations

import io
from fractions import Fraction
from typing import Any, NamedTuple

from reedwright.sound.events import SoundedNote, Timeline
from reedwright.tune.model import Key, Meter

TICKS = 960  # in a quarter note; whole for tuplets of 3 and 5
HARMONICA = 22  # General MIDI program 23, counted from 0
_CHANNEL = 0
_HIGHEST_TEMPO = (1 << 24) - 1  # microseconds: the tempo message has three bytes
# Modes by the signature's place: how many fifths the mode's tonic lies above its major.
_FLAT_MAJORS = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F")
_MAJORS = (*_FLAT_MAJORS, "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINORS = ("Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#", "G#", "D#", "A#")


class _Event(NamedTuple):
    """Sorted by tick; note ends come before what starts at the same tick."""

    tick: int
    rank: int
    message: Any


def write_midi(timeline: Timeline, cuts: bool = False) -> bytes:
    """A type 1 file: a track of tempo, metre and key, a track of notes for the harmonica.

    Onsets and lengths are as written, played out, in whole ticks of 1/960 quarter note,
    without count-in and lilt. With `cuts`, cuts and the quick notes of rolls are real
    short notes at the start of theirs, as long as they sound. Tempi are those of the
    timeline, its speed included. The same timeline gives the same bytes.
    """
    import mido

    notes = _as_played(timeline) if cuts else _as_written(timeline)
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS)
    file.tracks.append(_track(_frame(timeline)))
    head = [
        _Event(0, 0, mido.MetaMessage("track_name", name=_latin(timeline.title))),
        _Event(0, 1, mido.Message("program_change", channel=_CHANNEL, program=HARMONICA)),
    ]
    for note in notes:
        on, off = _ticks(note.start), max(_ticks(note.end), _ticks(note.start) + 1)
        velocity = max(1, min(127, round(note.velocity * 127)))
        head.append(
            _Event(
                on,
                3,
                mido.Message("note_on", channel=_CHANNEL, note=note.midi, velocity=velocity),
            )
        )
        head.append(
            _Event(off, 2, mido.Message("note_off", channel=_CHANNEL, note=note.midi, velocity=0))
        )
    file.tracks.append(_track(head))
    out = io.BytesIO()
    file.save(file=out)
    return out.getvalue()


class _MidiNote(NamedTuple):
    """In quarter notes from the tune's start."""

    midi: int
    start: Fraction
    end: Fraction
    velocity: float


def _as_written(timeline: Timeline) -> list[_MidiNote]:
    """One note for each written note that is sounded, however it is ornamented."""
    found: dict[Fraction, _MidiNote] = {}
    for note in timeline.notes:
        onset, length = note.quarters
        if not note.is_grace and onset not in found:
            found[onset] = _MidiNote(note.midi, onset, onset + length, note.velocity)
    return list(found.values())


def _as_played(timeline: Timeline) -> list[_MidiNote]:
    """Each written note shared out among its cuts and stretches, by their seconds."""
    groups: dict[Fraction, list[SoundedNote]] = {}
    for note in timeline.notes:
        groups.setdefault(note.quarters[0], []).append(note)
    found: list[_MidiNote] = []
    for onset, stretches in groups.items():
        length = max(note.quarters[1] for note in stretches)
        start = stretches[0].span.start
        per_second = Fraction(_tempo_at(timeline, onset) * timeline.speed / 60)
        # A short note after a lilt's long one may be written longer than it sounds, never so
        # much that its last stretch were lost.
        shrink = min(
            Fraction(1),
            Fraction(9, 10)
            * length
            / max(Fraction(1, TICKS), Fraction(stretches[-1].span.start - start) * per_second),
        )
        bounds = [
            onset + Fraction(each.span.start - start) * per_second * shrink for each in stretches
        ]
        bounds.append(onset + length)
        found += [
            _MidiNote(note.midi, bounds[k], bounds[k + 1], note.velocity)
            for k, note in enumerate(stretches)
        ]
    return found


def _tempo_at(timeline: Timeline, quarter: Fraction) -> float:
    return [p for p in timeline.tempi if p.quarter <= quarter][-1].quarters_per_minute


def _frame(timeline: Timeline) -> list[_Event]:
    """Tempo, metre and key with every change."""
    import mido

    events = [
        _Event(0, 0, mido.MetaMessage("track_name", name=_latin(timeline.title))),
    ]
    for point in timeline.tempi:
        micros = round(60e6 / (point.quarters_per_minute * timeline.speed))
        tempo = mido.MetaMessage("set_tempo", tempo=min(micros, _HIGHEST_TEMPO))
        events.append(_Event(_ticks(point.quarter), 1, tempo))
    meter: Meter | None = None
    key: Key | None = None
    for bar in timeline.bars:
        tick = _ticks(bar.quarter)
        if bar.meter != meter and not bar.meter.free:
            beats, unit = sum(bar.meter.beats), bar.meter.unit
            signature = mido.MetaMessage(
                "time_signature", numerator=beats, denominator=unit, clocks_per_click=24
            )
            events.append(_Event(tick, 2, signature))
        if bar.key != key:
            events.append(_Event(tick, 3, mido.MetaMessage("key_signature", key=_key(bar.key))))
        meter, key = bar.meter, bar.key
    return events


def _key(key: Key) -> str:
    """MIDI knows majors and minors; other modes go by their signature."""
    place = max(-7, min(7, key.fifths)) + 7
    return f"{_MINORS[place]}m" if key.mode == "minor" else _MAJORS[place]


def _track(events: list[_Event]) -> Any:
    import mido

    track = mido.MidiTrack()
    now = 0
    for event in sorted(events, key=lambda each: each[:2]):
        track.append(event.message.copy(time=event.tick - now))
        now = event.tick
    track.append(mido.MetaMessage("end_of_track", time=0))
    return track


def _ticks(quarter: Fraction) -> int:
    return round(quarter * TICKS)


def _latin(text: str) -> str:
    """MIDI texts are Latin-1 by custom; what it lacks becomes a question mark."""
    return text.encode("latin-1", "replace").decode("latin-1")
