"""The form of a tune as played: AABB, AABBCC, ABA and so on.

Public: `find_form`, `find_parts`, `Part`.

The rule
--------
1. The tune as played is cut where a repeat goes back, at repeat signs, part labels
   and double bar lines. What is cut off shorter than two bars (an anacrusis, a bar
   or two before a repeat) goes with the part that follows; after the last part it
   goes with that.
2. A part that no repeat plays again may be several parts written out. Where the
   tune has no repeats at all it is cut every eight bars (most dance tunes have parts of
   eight bars; common practice, no source), and a rest of four bars or more is a part too.
   Where other parts are repeated, a part that is twice as long as the shortest of
   them is cut in two if its halves turn out to be the same part.
3. Parts that are the same written bars, variant endings apart, have the same letter.
   Others are compared by what sounds when, from the first full bar on, without the
   last bar and without variant endings, graces apart. Sounding the same
   for nine tenths of the time or more: the same letter. For seven tenths or more:
   the same letter with a prime (A'). Otherwise a new letter.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from reedwright.tune.model import BarLine, Tune
from reedwright.tune.unfold import Performance, PlayedBar, unfold

SAME_PART = 0.9
VARIED_PART = 0.7
"""Shares of the time in which two parts sound the same. Our own choice, tried on tunes."""
SHARED_BARS = 0.75
"""Share of the shorter part's bars that make two parts one: most of it, endings apart."""
PART_BARS = 8
SHORTEST_PART_BARS = 2
SHORTEST_REST_BARS = 4

_EPSILON = 1e-6
_SECTION_ENDS = (BarLine.DOUBLE, BarLine.FINAL)


@dataclass(frozen=True, slots=True)
class Part:
    """One part as played: its letter (`A`, `B'`), its onset and length in quarter notes,
    and the printed number of its first full bar."""

    letter: str
    onset: float
    length: float
    bar: int


def find_form(tune: Tune, voice: int = 0) -> str:
    """The letters of the parts in the order of playing, `AABB`; empty for a tune without bars."""
    return "".join(part.letter for part in find_parts(unfold(tune, voice)))


def find_parts(performance: Performance) -> tuple[Part, ...]:
    """The parts of a tune as played, by the rule of this module."""
    if not performance.notes:
        return ()
    melody = _Melody(performance)
    pieces = _write_out(_cut(performance.bars), melody)
    letters: list[str] = []
    kinds: list[tuple[_Piece, str]] = []  # the first piece of each letter, primed ones apart
    for piece in pieces:
        letters.append(_letter(piece, kinds, melody))
    return tuple(
        Part(letter, float(piece.bars[0].onset), piece.end - float(piece.bars[0].onset), piece.bar)
        for piece, letter in zip(pieces, letters, strict=True)
    )


@dataclass(frozen=True)
class _Piece:
    """Bars played one after another that may be a part. Times in quarter notes."""

    bars: tuple[PlayedBar, ...]

    @cached_property
    def bar_length(self) -> float:
        """A full bar; in free metre the piece's longest bar."""
        full = self.bars[0].bar.meter.bar_length
        return float(full if full is not None else max(played.bar.length for played in self.bars))

    @cached_property
    def _first_full(self) -> PlayedBar:
        full = self.bar_length - _EPSILON
        return next((p for p in self.bars if float(p.bar.length) >= full), self.bars[0])

    @cached_property
    def start(self) -> float:
        """Onset of the first full bar, from which pieces are compared."""
        return float(self._first_full.onset)

    @cached_property
    def bar(self) -> int:
        return self._first_full.bar.number

    @cached_property
    def end(self) -> float:
        return float(self.bars[-1].onset + self.bars[-1].bar.length)

    @cached_property
    def full_bars(self) -> int:
        return round((self.end - self.start) / self.bar_length) if self.bar_length else 0

    @cached_property
    def short(self) -> bool:
        """Whether it is too little for a part: under two bars, by count in free metre."""
        if self.bars[0].bar.meter.free:
            return len(self.bars) < SHORTEST_PART_BARS
        length = self.end - float(self.bars[0].onset)
        return length < SHORTEST_PART_BARS * self.bar_length - _EPSILON

    def shares_bars(self, other: _Piece) -> bool:
        """Whether both are, for the most part, the same written bars."""
        own = {played.bar.index for played in self.bars}
        others = {played.bar.index for played in other.bars}
        return len(own & others) >= SHARED_BARS * min(len(own), len(others))

    @cached_property
    def common(self) -> float:
        """How long it can be compared: up to its variant ending, or without the last bar."""
        last = self.end - self.bar_length
        ending = next((float(p.onset) for p in self.bars if p.bar.ending), last)
        return max(min(last, ending) - self.start, self.bar_length)


class _Melody:
    """Which pitch sounds when: the highest, as the melody is."""

    def __init__(self, performance: Performance) -> None:
        self._onsets: list[float] = []
        self._sounds: list[int] = []
        for note in performance.notes:
            if note.continues:
                continue
            # By hand: float(Fraction) takes four times as long, and there are many.
            self._onsets.append(note.onset.numerator / note.onset.denominator)
            self._sounds.append(note.note.pitch.midi)

    def sounds(self, start: float, length: float) -> list[tuple[float, float, int]]:
        """(from, to, pitch) counted from `start`, each pitch lasting to the next one."""
        k = max(0, bisect_right(self._onsets, start + _EPSILON) - 1)
        found: list[tuple[float, float, int]] = []
        while k < len(self._onsets) and self._onsets[k] < start + length - _EPSILON:
            following = self._onsets[k + 1] if k + 1 < len(self._onsets) else start + length
            begin, end = max(self._onsets[k] - start, 0.0), min(following - start, length)
            found.append((begin, end, self._sounds[k]))
            k += 1
        return found

    def likeness(self, first: _Piece, second: _Piece) -> float:
        """The share of the time, 0 to 1, in which two pieces sound the same pitch."""
        length = min(first.common, second.common)
        if abs(first.common - second.common) > 2 * first.bar_length + _EPSILON or length <= 0:
            return 0.0
        ones, others = self.sounds(first.start, length), self.sounds(second.start, length)
        same = 0.0
        i = j = 0
        while i < len(ones) and j < len(others):
            if ones[i][2] == others[j][2]:
                same += max(0.0, min(ones[i][1], others[j][1]) - max(ones[i][0], others[j][0]))
            if ones[i][1] <= others[j][1]:
                i += 1
            else:
                j += 1
        return same / length


def _cut(bars: tuple[PlayedBar, ...]) -> list[_Piece]:
    """Cut at repeats, labels and double bars; what is too short joins the next piece."""
    cuts = [k for k in range(1, len(bars)) if _is_cut(bars[k - 1], bars[k])]
    pieces: list[_Piece] = []
    pending: tuple[PlayedBar, ...] = ()
    for start, stop in pairwise([0, *cuts, len(bars)]):
        piece = _Piece(pending + bars[start:stop])
        if piece.short:
            pending = piece.bars
        else:
            pieces.append(piece)
            pending = ()
    if pending and pieces:
        pieces[-1] = _Piece(pieces[-1].bars + pending)
    elif pending:
        pieces.append(_Piece(pending))
    return pieces


def _is_cut(before: PlayedBar, after: PlayedBar) -> bool:
    went_back = after.bar.index <= before.bar.index
    first, second = before.bar, after.bar
    if went_back or second.repeat_open or second.part is not None or first.repeat_close:
        return True
    adjacent = second.index == first.index + 1
    # A skipped ending is no cut, and a double bar is one only outside endings.
    return adjacent and first.closing in _SECTION_ENDS and not second.ending


def _write_out(pieces: list[_Piece], melody: _Melody) -> list[_Piece]:
    """Find the parts that are written out one after another in a single piece."""
    repeated = [
        any(other is not piece and other.shares_bars(piece) for other in pieces) for piece in pieces
    ]
    if not any(repeated):
        return [part for piece in pieces for part in _in_eights(piece)]
    shortest = min(piece.full_bars for piece, again in zip(pieces, repeated, strict=True) if again)
    parts: list[_Piece] = []
    for piece, again in zip(pieces, repeated, strict=True):
        halves = _in_two(piece)
        if (
            not again
            and piece.full_bars == 2 * shortest
            and len(halves) == 2
            and melody.likeness(halves[0], halves[1]) >= VARIED_PART
        ):
            parts += halves
        else:
            parts.append(piece)
    return parts


def _in_eights(piece: _Piece) -> list[_Piece]:
    if piece.bars[0].bar.meter.free:
        return [piece]
    return _in_lengths(piece, PART_BARS * piece.bar_length)


def _in_two(piece: _Piece) -> list[_Piece]:
    return _in_lengths(piece, piece.full_bars // 2 * piece.bar_length)


def _in_lengths(piece: _Piece, length: float) -> list[_Piece]:
    """Cut every `length` quarter notes from the first full bar on."""
    if length <= 0:
        return [piece]
    shortest_rest = SHORTEST_REST_BARS * piece.bar_length - piece.bar_length / 2
    cuts = [0]
    target = piece.start + length
    for k, played in enumerate(piece.bars):
        if float(played.onset) >= target - _EPSILON and piece.end - target > shortest_rest:
            cuts.append(k)
            target += length
    cuts.append(len(piece.bars))
    return [_Piece(piece.bars[a:b]) for a, b in pairwise(cuts)]


def _letter(piece: _Piece, kinds: list[tuple[_Piece, str]], melody: _Melody) -> str:
    """The letter of a piece among those before it; a new kind is added."""
    likest, letter = 0.0, ""
    for other, name in kinds:
        if other.shares_bars(piece):
            return name
        alike = melody.likeness(other, piece)
        if alike > likest + _EPSILON:
            likest, letter = alike, name
    if likest >= SAME_PART:
        return letter
    names = {name for _, name in kinds}
    if likest >= VARIED_PART:
        letter = letter.rstrip("'")
        while letter in names:
            letter += "'"
    else:
        letter = chr(ord("A") + min(25, len({name[0] for name in names})))
    kinds.append((piece, letter))
    return letter
