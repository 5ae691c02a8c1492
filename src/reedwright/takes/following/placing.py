"""When each note and bar of the music sounds, in seconds of the take.

A heard note gives its own time. What was not heard is put between its neighbours by the
written lengths; a note that repeats the pitch before it and was not heard to begin anew is
looked for where it ought to be: in the novelty, and as a dip in level.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.model import Heard
from reedwright.takes.following.played import PlayedBar
from reedwright.takes.following.score import Score

Array = npt.NDArray[np.float64]

GRACE_SECONDS = 0.04  # that a missed cut would have lasted
_WINDOW = 0.12  # seconds to each side of where a repeated note is looked for
_WINDOW_SHARE = 0.35  # of the time to its neighbours, at most
_NOVEL = 0.25  # novelty that counts as a new beginning
_DIP_DB = 4.0  # or so much less level for a moment
_PACE_NOTES = 8  # notes from which the tempo at an edge is taken
_STOP = 0.7  # seconds of silence beyond what is written that make a break between bars
_RING_SHARE = 1.5  # of a last bar's expected length that it may last


class Placed(NamedTuple):
    """A written note that the take comes to: its place, bar (of the music), quarters from the
    start of the music, seconds, and the heard notes that play it."""

    place: int
    bar: int
    onset: Fraction
    start: float
    end: float
    heard: tuple[int, ...]


class PlacedBar(NamedTuple):
    """A bar of the music: quarters and seconds, and its notes as a slice."""

    onset: Fraction
    length: Fraction
    start: float
    end: float
    first: int
    last: int


def place_music(
    score: Score, bars: Sequence[PlayedBar], heard: Heard, added: Sequence[int], usual: float
) -> tuple[list[Placed], list[PlacedBar]]:
    """Time everything. `added` are heard notes within the music that no match has; `usual` is
    the seconds a quarter note where nothing else tells."""
    return _Placing(score, bars, heard, added, usual).place()


class _Note(NamedTuple):
    """A visit with where it stands."""

    place: int
    bar: int
    at: Fraction
    heard: int | None
    strand: int


class _Placing:
    def __init__(
        self,
        score: Score,
        bars: Sequence[PlayedBar],
        heard: Heard,
        added: Sequence[int],
        usual: float,
    ) -> None:
        self._score, self._bars, self._heard = score, bars, heard
        self._added = set(added)
        self._onsets: list[Fraction] = []
        self._lengths: list[Fraction] = []
        at = Fraction(0)
        for bar in bars:
            self._onsets.append(at)
            self._lengths.append(score.lengths[bar.bar] - bar.cut)
            at += self._lengths[-1]
        self._notes = [
            _Note(
                visit.place,
                k,
                self._onsets[k] + score.places[visit.place].offset,
                visit.heard,
                bar.run,
            )
            for k, bar in enumerate(bars)
            for visit in bar.visits
        ]
        self._lines = {
            strand: _Line(self._anchors(strand), usual)
            for strand in {note.strand for note in self._notes}
        }

    def _anchors(self, strand: int) -> list[tuple[float, float]]:
        """(quarters, seconds) of what was heard: notes, and cuts of notes that were not."""
        found: dict[Fraction, tuple[bool, float]] = {}
        for note in self._notes:
            if note.strand != strand or note.heard is None:
                continue
            is_note = not self._score.places[note.place].is_grace
            if note.at not in found or (is_note and not found[note.at][0]):
                found[note.at] = (is_note, float(self._heard.notes[note.heard].start))
        ordered = sorted((float(at), seconds) for at, (_, seconds) in found.items())
        kept: list[tuple[float, float]] = []
        for at, seconds in ordered:
            if not kept or seconds > kept[-1][1]:
                kept.append((at, seconds))
        return kept

    def place(self) -> tuple[list[Placed], list[PlacedBar]]:
        starts, heard = self._starts()
        ends = self._ends(starts, heard)
        placed = [
            Placed(note.place, note.bar, note.at, start, end, by)
            for note, start, end, by in zip(self._notes, starts, ends, heard, strict=True)
        ]
        return placed, self._place_bars(placed)

    def _starts(self) -> tuple[list[float], list[tuple[int, ...]]]:
        starts: list[float] = []
        heard: list[tuple[int, ...]] = []
        for k, note in enumerate(self._notes):
            if note.heard is not None:
                starts.append(float(self._heard.notes[note.heard].start))
                heard.append((note.heard, *self._fragments(note.heard)))
                continue
            expected = self._lines[note.strand](float(note.at))
            if self._score.places[note.place].is_grace:
                expected -= GRACE_SECONDS
            before = self._sounding_on(k, heard)
            found = None if before is None else self._begun_anew(k, expected, starts, before)
            if found is not None and before is not None:
                starts.append(found)
                heard.append((before,))
            else:
                same = k and self._notes[k - 1].strand == note.strand
                starts.append(max(expected, starts[-1]) if same else max(0.0, expected))
                heard.append(())
        return starts, heard

    def _fragments(self, index: int) -> list[int]:
        """Added notes of the same pitch that follow while nothing else is matched."""
        notes = self._heard.notes
        found: list[int] = []
        k = index + 1
        while k in self._added:
            if abs(notes[k].midi - notes[index].midi) < 0.5:
                found.append(k)
            k += 1
        return found

    def _sounding_on(self, k: int, heard: list[tuple[int, ...]]) -> int | None:
        """The heard note of the note before, if that has the same pitch."""
        places, note = self._score.places, self._notes[k]
        if places[note.place].is_grace:
            return None
        j = k - 1
        while j >= 0 and places[self._notes[j].place].is_grace and not heard[j]:
            j -= 1
        if j < 0 or not heard[j] or self._notes[j].strand != note.strand:
            return None
        if places[self._notes[j].place].midi != places[note.place].midi:
            return None
        return heard[j][-1]

    def _begun_anew(
        self, k: int, expected: float, starts: list[float], before: int
    ) -> float | None:
        """Where within a heard note another of its pitch begins, near where it should."""
        following = next(
            (
                self._heard.notes[note.heard].start
                for note in self._notes[k + 1 :]
                if note.heard is not None
            ),
            self._heard.notes[before].end,
        )
        sounds_to = min(following, self._heard.notes[before].end)
        since = next(
            (
                s
                for s, n in zip(reversed(starts), reversed(self._notes[:k]), strict=True)
                if not self._score.places[n.place].is_grace
            ),
            expected,
        )
        room = min(expected - since, sounds_to - expected)
        if room <= 0.02:
            return None
        window = min(_WINDOW, _WINDOW_SHARE * (expected - since), 0.8 * room)
        track = self._heard.track
        frames = track.frames(expected - window, expected + window)
        novelty, level = self._heard.novelty[frames], track.level[frames]
        if not len(novelty):
            return None
        times = track.times[frames]
        peak = int(np.argmax(novelty))
        if novelty[peak] >= _NOVEL:
            return float(times[peak])
        lowest = int(np.argmin(level))
        sides = min(float(level[: lowest + 1].max()), float(level[lowest:].max()))
        if sides - float(level[lowest]) >= _DIP_DB:
            return float(times[lowest])
        return None

    def _ends(self, starts: list[float], heard: list[tuple[int, ...]]) -> list[float]:
        ends: list[float] = []
        for k, note in enumerate(self._notes):
            following = starts[k + 1] if k + 1 < len(starts) else np.inf
            joined = k + 1 < len(starts) and self._notes[k + 1].strand == note.strand
            if heard[k]:
                end = self._heard.notes[heard[k][-1]].end
                if k + 1 < len(starts) and heard[k + 1] and heard[k + 1][0] == heard[k][-1]:
                    end = following
            else:
                place = self._score.places[note.place]
                line = self._lines[note.strand]
                end = line(float(note.at + place.length))
                if place.is_grace:
                    end = starts[k] + GRACE_SECONDS
            if joined:
                end = min(end, following)
            ends.append(float(max(end, starts[k])))
        return ends

    def _place_bars(self, placed: list[Placed]) -> list[PlacedBar]:
        first_of: list[int] = []
        k = 0
        for bar in range(len(self._bars)):
            while k < len(placed) and placed[k].bar < bar:
                k += 1
            first_of.append(k)
        first_of.append(len(placed))
        starts = [self._bar_start(bar, placed, first_of[bar]) for bar in range(len(self._bars))]
        for bar in range(1, len(starts)):
            starts[bar] = max(starts[bar], starts[bar - 1])
        found: list[PlacedBar] = []
        for bar, start in enumerate(starts):
            first, last = first_of[bar], first_of[bar + 1]
            end = self._bar_end(bar, start, starts, placed[first:last])
            found.append(PlacedBar(self._onsets[bar], self._lengths[bar], start, end, first, last))
        return found

    def _bar_start(self, bar: int, placed: list[Placed], first: int) -> float:
        """Its first sound, where that is heard and stands on its first beat."""
        played = self._bars[bar]
        if first < len(placed) and placed[first].bar == bar:
            onset = placed[first]
            heard = next(
                (p for p in placed[first:] if p.bar == bar and p.onset == onset.onset and p.heard),
                None,
            )
            if heard is not None and heard.onset == self._onsets[bar]:
                return heard.start
        return max(0.0, self._lines[played.run](float(self._onsets[bar])))

    def _bar_end(self, bar: int, start: float, starts: list[float], placed: list[Placed]) -> float:
        line = self._lines[self._bars[bar].run]
        length = float(self._lengths[bar])
        last = max((p.end for p in placed if p.heard), default=start)
        expected = start + length * line.pace_near(float(self._onsets[bar]))
        if bar + 1 < len(starts):
            following = starts[bar + 1]
            joined = self._bars[bar + 1].run == self._bars[bar].run
            stopped = following - max(last, expected) > _STOP
            if joined and not stopped:
                return following
            latest = following
        else:
            latest = max(self._heard.duration, last)
        longest = start + _RING_SHARE * (expected - start)
        return float(max(start, min(latest, max(expected, min(last, longest)))))


class _Line:
    """Seconds for quarters along one strand of music: straight between what was heard."""

    def __init__(self, anchors: list[tuple[float, float]], usual: float) -> None:
        self._at: Array = np.array([at for at, _ in anchors])
        self._seconds: Array = np.array([seconds for _, seconds in anchors])
        self._usual = usual

    def __call__(self, quarter: float) -> float:
        if not len(self._at):
            return 0.0
        if quarter < self._at[0]:
            return float(self._seconds[0] + (quarter - self._at[0]) * self._pace(0))
        if quarter > self._at[-1]:
            last = max(0, len(self._at) - 1 - _PACE_NOTES)
            return float(self._seconds[-1] + (quarter - self._at[-1]) * self._pace(last))
        return float(np.interp(quarter, self._at, self._seconds))

    def pace_near(self, quarter: float) -> float:
        """Seconds a quarter note around a place."""
        return self._pace(max(0, int(np.searchsorted(self._at, quarter)) - _PACE_NOTES // 2))

    def _pace(self, first: int) -> float:
        """Over some notes from the anchor `first` on: the median, so that a stop does not count."""
        first = min(first, max(0, len(self._at) - 1 - _PACE_NOTES // 2))
        at = self._at[first : first + _PACE_NOTES + 1]
        seconds = self._seconds[first : first + _PACE_NOTES + 1]
        steps = np.diff(at)
        if not len(steps) or steps.sum() <= 0:
            return self._usual
        paces = np.diff(seconds) / np.maximum(steps, 1e-9)
        order = np.argsort(paces)
        middle = int(np.searchsorted(np.cumsum(steps[order]), steps.sum() / 2))
        return float(paces[order[min(middle, len(order) - 1)]])
