"""The written tune: notes in bars, with ties, triplets, beams, repeats and endings.

Public: `written`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from reedwright.takes.transcribing.folding import Line, Section
from reedwright.takes.transcribing.model import TICKS, Placed
from reedwright.tune.model import (
    Bar,
    BarLine,
    Event,
    Grace,
    Key,
    Meter,
    Note,
    Place,
    Rest,
    Tuplet,
)
from reedwright.tune.spelling import spelled

NOWHERE = Place(1, 1)
WRITABLE = (48, 36, 24, 18, 12, 9, 6, 3)  # ticks that one note without a tie may last
GRACE_LENGTH = Fraction(1, 2)  # as a quaver in ABC's `{}` is read


class Piece(NamedTuple):
    """A note, or silence (`midi` 0), within one written bar; ticks from the bar line."""

    onset: int
    end: int
    midi: int
    graces: tuple[int, ...] = ()
    tied: bool = False
    group: int = -1  # where its triplet begins, -1 for none
    group_length: int = 0


class Stretch(NamedTuple):
    """A written bar before it has events: which notes, from where to where in ticks of the
    line, and its signs. It is written from bar `line_bar` of the line; `shift` is how many ticks
    of a full bar lie before it (of an anacrusis)."""

    start: int
    end: int
    line_bar: int
    shift: int = 0
    repeat_open: bool = False
    repeat_close: int = 0
    ending: tuple[int, ...] = ()
    ending_last: bool = False
    closes_part: bool = False


def written(
    line: Line, sections: Sequence[Section], meter: Meter, key: Key
) -> tuple[tuple[Bar, ...], tuple[int, ...]]:
    """The bars of the tune, and of each the bar of the line that it is written from."""
    stretches = _stretches(line, sections)
    notes = _notes_of(line)
    bars: list[Bar] = []
    for index, stretch in enumerate(stretches):
        pieces = _pieces(notes, stretch)
        events = _Writer(key, meter, index).events(pieces)
        last = index == len(stretches) - 1
        closing = BarLine.SINGLE
        if last and not stretch.repeat_close:
            closing = BarLine.FINAL
        elif stretch.closes_part and not stretch.repeat_close:
            closing = BarLine.DOUBLE
        bars.append(
            Bar(
                index=index,
                number=index,
                events=tuple(events),
                key=key,
                meter=meter,
                place=NOWHERE,
                closing=closing,
                repeat_open=stretch.repeat_open,
                repeat_close=stretch.repeat_close,
                ending=stretch.ending,
                ending_last=stretch.ending_last,
            )
        )
    return tuple(_with_lines(bars)), tuple(s.line_bar for s in stretches)


def _with_lines(bars: Sequence[Bar]) -> list[Bar]:
    """Lines of four full bars, ending with the sections."""
    found: list[Bar] = []
    count = 0
    for k, bar in enumerate(bars):
        full = bar.length == bar.meter.bar_length
        count += int(full)
        following = bars[k + 1] if k + 1 < len(bars) else None
        section_ends = (
            following is None
            or bar.repeat_close > 0
            or following.repeat_open
            or bar.closing is BarLine.DOUBLE
        )
        rest_is_short = following is not None and following.ending == (2,)
        ends = section_ends or (count >= 4 and not rest_is_short)
        if following is not None and following.ending == (2,):
            ends = False
        closes_soon = following is not None and following.length != following.meter.bar_length
        if ends and closes_soon and not section_ends:
            ends = False
        if k == 0 and not full and following is not None:
            ends = False
        if ends:
            count = 0
        found.append(_replace_line_end(bar, ends))
    return found


def _replace_line_end(bar: Bar, ends: bool) -> Bar:
    return replace(bar, line_end=ends)


def _stretches(line: Line, sections: Sequence[Section]) -> list[Stretch]:
    """Bars of the line as written bars: each section from its anacrusis to its end."""
    found: list[Stretch] = []
    if line.upbeat:
        start = line.bar - line.upbeat
        found.append(Stretch(start, line.bar, 0, shift=start))
        sections = sections[1:]
    for section in sections:
        last = section is sections[-1]
        repeated = section.passes > 1
        common = section.length - section.ending
        body = _bars_of(line, section.first, common, cut_end=not section.ending)
        body[0] = body[0]._replace(repeat_open=repeated)
        if not section.ending:
            body[-1] = body[-1]._replace(
                repeat_close=section.passes if repeated else 0, closes_part=not last
            )
            found += body
            continue
        found += body
        for p in range(section.passes):
            first = section.first + p * section.length + common
            ending = _bars_of(line, first, section.ending, cut_end=True, cut_start=True)
            ending[0] = ending[0]._replace(ending=(p + 1,))
            close = 2 if p == 0 else 0
            ending[-1] = ending[-1]._replace(ending_last=True, repeat_close=close, closes_part=True)
            found += ending
    return found


def _bars_of(
    line: Line, first: int, count: int, cut_end: bool, cut_start: bool = False
) -> list[Stretch]:
    """Written bars between bar lines. With a lead the first begins with an anacrusis."""
    bar, lead = line.bar, line.lead
    found: list[Stretch] = []
    start = first * bar + (lead if cut_start else 0)
    end = (first + count) * bar + (0 if cut_end else lead)
    if lead and not cut_start:
        found.append(Stretch(start, start + lead, first, shift=bar - lead))
        start += lead
    while start < end:
        found.append(Stretch(start, min(start + bar, end), min(start // bar, len(line.bars) - 1)))
        start += bar
    return found


def _notes_of(line: Line) -> list[Placed]:
    """All notes of the line, onsets in ticks of the line, by onset."""
    return [
        note._replace(onset=k * line.bar + note.onset)
        for k, bar in enumerate(line.bars)
        for note in bar
    ]


def _pieces(notes: Sequence[Placed], stretch: Stretch) -> list[Piece]:
    """What sounds in a written bar, onsets from where the bar line before it would be."""
    inside = [n for n in notes if stretch.start <= n.onset < stretch.end]
    shift = stretch.shift
    found: list[Piece] = []
    now = stretch.start
    for k, note in enumerate(inside):
        if note.onset > now:
            found.append(_silence(now, note.onset))
        until = inside[k + 1].onset if k + 1 < len(inside) else stretch.end
        end = min(note.onset + note.length, until)
        found.append(Piece(note.onset, end, note.midi, note.graces))
        now = end
    if now < stretch.end:
        found.append(_silence(now, stretch.end))
    return [p._replace(onset=p.onset - stretch.start + shift, end=p.end - stretch.start + shift)
            for p in found]  # fmt: skip


def _silence(start: int, end: int) -> Piece:
    return Piece(start, end, 0)


class _Writer:
    """The events of one bar."""

    def __init__(self, key: Key, meter: Meter, bar: int) -> None:
        self.key, self.meter, self.bar = key, meter, bar
        self.compound = meter.compound

    def events(self, pieces: Sequence[Piece]) -> list[Event]:
        whole = _in_triplets(pieces, self.compound)
        cut = [part for piece in whole for part in self._parts(piece)]
        return [self._event(cut, k) for k in range(len(cut))]

    def _parts(self, piece: Piece) -> list[Piece]:
        """One note as notes that can be written, tied."""
        if piece.group >= 0:
            return [piece]
        found: list[Piece] = []
        start, end = piece.onset, piece.end
        while start < end:
            length = self._length(start, end - start)
            graces = piece.graces if not found else ()
            tied = piece.tied or start + length < end
            found.append(piece._replace(onset=start, end=start + length, graces=graces, tied=tied))
            start += length
        return found

    def _length(self, start: int, left: int) -> int:
        """The longest writable length, not past the next beat where it begins off one."""
        if left in WRITABLE and (left <= 24 or start % 12 == 0 or self.compound):
            return left
        fits = [w for w in WRITABLE if w <= left]
        beat = 18 if self.compound else 12
        to_beat = beat - start % beat
        if start % beat and to_beat in WRITABLE and to_beat < left:
            return to_beat
        return fits[0] if fits else left

    def _event(self, pieces: Sequence[Piece], k: int) -> Event:
        piece = pieces[k]
        length = Fraction(piece.end - piece.onset, TICKS)
        tuplet = self._tuplet(pieces, k)
        id_ = f"b{self.bar}n{k}"
        if not piece.midi:
            return Rest(id_, length, NOWHERE, tuplet=tuplet)
        return Note(
            id_,
            (spelled(piece.midi, self.key),),
            length,
            NOWHERE,
            ties=(piece.tied and piece.midi > 0,),
            tuplet=tuplet,
            graces=tuple(
                Grace(f"{id_}g{j}", spelled(midi, self.key), GRACE_LENGTH, NOWHERE)
                for j, midi in enumerate(piece.graces)
            ),
            beamed=self._beamed(pieces, k),
        )

    def _tuplet(self, pieces: Sequence[Piece], k: int) -> Tuplet | None:
        piece = pieces[k]
        if piece.group < 0:
            return None
        first = k == 0 or pieces[k - 1].group != piece.group
        last = k + 1 == len(pieces) or pieces[k + 1].group != piece.group
        return Tuplet(3, 2, first, last)

    def _beamed(self, pieces: Sequence[Piece], k: int) -> bool:
        if k + 1 >= len(pieces):
            return False
        piece, following = pieces[k], pieces[k + 1]
        if not following.midi or piece.end - piece.onset >= 12:
            return False
        if following.end - following.onset >= 12:
            return False
        span = 18 if self.compound else 24 if self.meter.name in ("4/4", "2/2") else 12
        return piece.onset // span == following.onset // span


def _in_triplets(pieces: Sequence[Piece], compound: bool) -> list[Piece]:
    """Pieces with their triplets marked, cut with ties where they reach over a triplet's edge."""
    if compound:
        return list(pieces)
    groups = _groups(pieces)
    if not groups:
        return list(pieces)
    edges = sorted({g for g, _ in groups} | {g + n for g, n in groups})
    found: list[Piece] = []
    for piece in pieces:
        start = piece.onset
        for edge in [e for e in edges if piece.onset < e < piece.end] + [piece.end]:
            graces = piece.graces if start == piece.onset else ()
            tied = piece.tied or (edge < piece.end and piece.midi > 0)
            group = next((g for g in groups if g[0] <= start and edge <= g[0] + g[1]), (-1, 0))
            found.append(Piece(start, edge, piece.midi, graces, tied, *group))
            start = edge
    return found


def _groups(pieces: Sequence[Piece]) -> list[tuple[int, int]]:
    """Where triplets begin and how long they are, in ticks."""
    found: list[tuple[int, int]] = []
    edges = {edge for p in pieces for edge in (p.onset, p.end)}
    for beat in sorted({edge // 12 * 12 for edge in edges if edge % 3}):
        inner = {edge - beat for edge in edges if beat < edge < beat + 12}
        if inner <= {4, 8}:
            found.append((beat, 12))
            continue
        found += [(beat + half, 6) for half in (0, 6) if {half + 2, half + 4} & inner]
    return found
