"""Sounds put into bars: by the time signatures, with ties over bar lines and triplet groups."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from reedwright.tune.midi_in.events import MidiContent
from reedwright.tune.midi_in.quantising import Sound
from reedwright.tune.model import (
    Bar,
    BarLine,
    Event,
    Key,
    Lyric,
    Meter,
    Note,
    Place,
    Rest,
    Tuplet,
)
from reedwright.tune.spelling import spelled

_TRIPLET = (3, 2)


class _Frame(NamedTuple):
    """An empty bar."""

    start: Fraction
    end: Fraction
    meter: Meter
    key: Key


class _Piece(NamedTuple):
    """A sound or silence (no pitches) that lies within one bar."""

    start: Fraction
    end: Fraction
    midis: tuple[int, ...]
    tied: bool
    sound: int  # number of the sound in its voice, from 1
    first: bool


def bars_of(
    sounds: Sequence[Sound], content: MidiContent, key: Key, track: int, ids: str
) -> tuple[Bar, ...]:
    """The bars of one voice. `ids` goes before the ids of its notes."""
    end = max(
        Fraction(note.end, content.ticks_per_quarter)
        for voice in content.voices
        for note in voice.notes
    )
    frames = _frames(max(end, sounds[-1].end), content, key)
    lyrics = {
        Fraction(tick, content.ticks_per_quarter): text for tick, text in content.lyrics.items()
    }
    pieces = _pieces(sounds)
    bars: list[Bar] = []
    count = 0
    k = 0
    anacrusis = len(frames) > 1 and _is_anacrusis(frames)
    for index, frame in enumerate(frames):
        inside: list[_Piece] = []
        while k < len(pieces) and pieces[k].start < frame.end:
            piece = pieces[k]
            if piece.end <= frame.end:
                inside.append(piece)
                k += 1
            else:
                inside.append(piece._replace(end=frame.end, tied=bool(piece.midis)))
                pieces[k] = piece._replace(start=frame.end, first=False)
                break
        events: list[Event] = []
        for piece, tuplet in _grouped(_filled(inside, frame), frame):
            count += 1
            events.append(_event(piece, tuplet, frame.key, f"{ids}n{count}", track, lyrics))
        bars.append(
            Bar(
                index=index,
                number=index if anacrusis else index + 1,
                events=tuple(events),
                key=frame.key,
                meter=frames[1].meter if anacrusis and index == 0 else frame.meter,
                place=events[0].place if events else Place(track, 1),
                closing=BarLine.FINAL if index == len(frames) - 1 else BarLine.SINGLE,
                line_end=index == len(frames) - 1,
            )
        )
    return tuple(bars)


def _frames(end: Fraction, content: MidiContent, key: Key) -> list[_Frame]:
    """Empty bars up to `end`. A new time signature inside a bar cuts it short."""
    quarter = content.ticks_per_quarter
    meters = [(Fraction(tick, quarter), meter) for tick, meter in content.meters]
    keys = [(Fraction(tick, quarter), k) for tick, k in content.keys]
    meter = Meter()
    frames: list[_Frame] = []
    now = Fraction(0)
    while now < end or not frames:
        while meters and meters[0][0] <= now:
            meter = meters.pop(0)[1]
        while keys and keys[0][0] <= now:
            key = keys.pop(0)[1]
        stop = now + (meter.bar_length or Fraction(4))
        if meters and meters[0][0] < stop:
            stop = meters[0][0]
        frames.append(_Frame(now, stop, meter, key))
        now = stop
    return frames


def _is_anacrusis(frames: Sequence[_Frame]) -> bool:
    """Notation programs write an anacrusis as a first bar of a shorter metre."""
    first, second = frames[0], frames[1]
    return first.meter != second.meter and first.end - first.start < second.end - second.start


def _pieces(sounds: Sequence[Sound]) -> list[_Piece]:
    """Sounds, and the silence between them."""
    pieces: list[_Piece] = []
    now = Fraction(0)
    for number, sound in enumerate(sounds, start=1):
        if sound.onset > now:
            pieces.append(_Piece(now, sound.onset, (), False, number, True))
        pieces.append(_Piece(sound.onset, sound.end, sound.midis, False, number, True))
        now = sound.end
    return pieces


def _filled(pieces: list[_Piece], frame: _Frame) -> list[_Piece]:
    now = pieces[-1].end if pieces else frame.start
    if now < frame.end:
        number = pieces[-1].sound if pieces else 1
        return [*pieces, _Piece(now, frame.end, (), False, number, True)]
    return pieces


def _grouped(pieces: list[_Piece], frame: _Frame) -> list[tuple[_Piece, Tuplet | None]]:
    """Pieces with their triplets: a quarter note in thirds is a group of its own."""
    thirds = {
        _beat_of(time, frame)
        for piece in pieces
        for time in (piece.start, piece.end)
        if (time - frame.start).denominator % 3 == 0
    }
    if not thirds:
        return [(piece, None) for piece in pieces]
    edges = {frame.start + beat for beat in thirds} | {frame.start + beat + 1 for beat in thirds}
    cut = [part for piece in pieces for part in _cut(piece, edges)]
    result: list[tuple[_Piece, Tuplet | None]] = []
    for place, piece in enumerate(cut):
        beat = _beat_of(piece.start, frame)
        if beat not in thirds:
            result.append((piece, None))
            continue
        first = place == 0 or _beat_of(cut[place - 1].start, frame) != beat
        last = place == len(cut) - 1 or _beat_of(cut[place + 1].start, frame) != beat
        whole = first and last  # a whole quarter note needs no triplet
        result.append((piece, None if whole else Tuplet(*_TRIPLET, first=first, last=last)))
    return result


def _beat_of(time: Fraction, frame: _Frame) -> int:
    offset = time - frame.start
    return offset.numerator // offset.denominator


def _cut(piece: _Piece, edges: set[Fraction]) -> list[_Piece]:
    """A piece cut at the edges of triplet groups, its notes tied."""
    inside = sorted(edge for edge in edges if piece.start < edge < piece.end)
    parts: list[_Piece] = []
    start, first = piece.start, piece.first
    for edge in inside:
        parts.append(piece._replace(start=start, end=edge, tied=bool(piece.midis), first=first))
        start, first = edge, False
    parts.append(piece._replace(start=start, first=first))
    return parts


def _event(
    piece: _Piece,
    tuplet: Tuplet | None,
    key: Key,
    id_: str,
    track: int,
    lyrics: dict[Fraction, str],
) -> Event:
    place = Place(track, piece.sound)
    length = piece.end - piece.start
    if not piece.midis:
        return Rest(id_, length, place, tuplet=tuplet)
    text = lyrics.get(piece.start, "").strip(" /\\\r\n") if piece.first else ""
    return Note(
        id_,
        tuple(spelled(midi, key) for midi in piece.midis),
        length,
        place,
        ties=(piece.tied,) * len(piece.midis),
        tuplet=tuplet,
        lyrics=(Lyric(text.rstrip("-"), hyphen=text.endswith("-")),) if text else (),
    )
