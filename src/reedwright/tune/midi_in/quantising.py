"""Played times brought to a sensible grid: semiquavers or triplet quavers, beat by beat.

A file exported by a notation program lies on its grid exactly, also on demisemiquavers
or semiquaver triplets, and stays as it is. A played file goes to the nearer of
semiquavers and triplet quavers in each quarter note. The tolerances are our
own choice, without a source.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from reedwright.tune.midi_in.events import MidiNote

EXACT = Fraction(1, 96)
"""Quarter notes within which a note counts as lying on a grid."""
_GRIDS = (4, 3, 8, 6)  # parts of a quarter note; the first that fits is taken
_PLAYED_GRIDS = (4, 3)
LEGATO_GAP = Fraction(1, 4)
"""Quarter notes; a shorter silence before the next note is the player's touch, not a rest."""


class Sound(NamedTuple):
    """A note or chord on the grid, in quarter notes. `grids`: by quarter note, where not 4.

    `moved`: quantising changed its onset by more than `EXACT`.
    """

    onset: Fraction
    length: Fraction
    midis: tuple[int, ...]
    moved: bool

    @property
    def end(self) -> Fraction:
        return self.onset + self.length


def quantised(notes: Sequence[MidiNote], ticks_per_quarter: int) -> list[Sound]:
    """Notes as a single line with chords: one after another, none overlapping the next."""
    onsets = [Fraction(note.start, ticks_per_quarter) for note in notes]
    grids = _grids(onsets)
    chords: dict[Fraction, dict[int, Fraction]] = {}
    moved: set[Fraction] = set()
    for note, onset in zip(notes, onsets, strict=True):
        placed = _nearest(onset, grids)
        if abs(placed - onset) > EXACT:
            moved.add(placed)
        end = Fraction(note.end, ticks_per_quarter)
        chord = chords.setdefault(placed, {})
        chord[note.midi] = max(chord.get(note.midi, end), end)
    starts = sorted(chords)
    sounds: list[Sound] = []
    for k, start in enumerate(starts):
        following = starts[k + 1] if k + 1 < len(starts) else None
        midis = chords[start]
        end = _end(start, max(midis.values()), following, grids)
        sounds.append(Sound(start, end - start, tuple(sorted(midis)), start in moved))
    return sounds


def _grids(onsets: Sequence[Fraction]) -> dict[int, int]:
    """The grid of each quarter note in which something begins."""
    beats: dict[int, list[Fraction]] = {}
    for onset in onsets:
        whole = onset.numerator // onset.denominator
        beats.setdefault(whole, []).append(onset - whole)
    return {beat: _grid(places) for beat, places in beats.items()}


def _grid(places: Sequence[Fraction]) -> int:
    for grid in _GRIDS:
        if all(_error(place, grid) <= EXACT for place in places):
            return grid
    return min(_PLAYED_GRIDS, key=lambda grid: (sum(_error(p, grid) for p in places), -grid))


def _error(place: Fraction, grid: int) -> Fraction:
    return abs(place - Fraction(round(place * grid), grid))


def _nearest(time: Fraction, grids: dict[int, int]) -> Fraction:
    beat = time.numerator // time.denominator
    grid = grids.get(beat, 4)
    return Fraction(round(time * grid), grid)


def _end(
    start: Fraction, end: Fraction, following: Fraction | None, grids: dict[int, int]
) -> Fraction:
    """Where a note ends: at the next one if it overlaps or nearly meets it."""
    if following is not None and end > following - LEGATO_GAP:
        return following
    placed = _nearest(end, grids)
    if placed <= start:
        placed = start + Fraction(1, grids.get(start.numerator // start.denominator, 4))
    return placed if following is None else min(placed, following)
