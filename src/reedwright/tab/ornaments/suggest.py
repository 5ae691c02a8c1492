"""Where a player would put more ornaments than are written, and which.

What is looked for (common practice of dance players, no source; the figures are our
judgement): a repeated note is parted by a cut, a long note is rolled or shaken, a note that
begins a part or a phrase or falls on a strong beat is marked by a cut, a long note that
bends is slid into, a crotchet is broken into a triplet. Never on a note too short at the
tempo, nor so that ornaments crowd each other, nor in another breath than the note's.

Public: `suggested`.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple

from reedwright.harp.model import Sounding, Technique
from reedwright.tab.ornaments.model import Amount, Origin, Ornament, OrnamentKind
from reedwright.tab.ornaments.plan import (
    SECONDS_PER_MINUTE,
    SHORTEST_WARBLE,
    placed,
    roll_kind,
)
from reedwright.tab.ornaments.playable import Ornamenting, written_demands
from reedwright.tune.model import Bar, Note, Rest, Tune
from reedwright.tune.unfold import written_beats

# Seconds that a note must last to be ornamented so (common practice: a cut takes 30 to 60 ms,
# and leaves the note itself more than half of its time).
SHORTEST_CUT = 0.11
SHORTEST_SLIDE = 0.22
TRIPLET_SECONDS = (0.24, 0.7)  # quicker it cannot be tongued, slower it is no triplet any more
LONG_WARBLE = 0.9

PHRASE_BARS = 4
FREE_BAR = 4.0  # quarter notes that count as a bar where there is no metre
_ROUNDING = 1e-6
_ROLLS = (OrnamentKind.LONG_ROLL, OrnamentKind.SHORT_ROLL)
_SAME_KIND = 0.9  # what a kind loses by standing just before, too
_SAME_PLACE = 1.5  # what the second time loses where the first had an ornament
_SAME_THERE = 2.5  # and where it would be the same one


class _Density(NamedTuple):
    """Ornaments a bar, the least distance between two in bars, and the least worth of one."""

    per_bar: float
    apart: float
    worth: float


_DENSITIES = {
    Amount.LIGHT: _Density(0.3, 0.75, 1.5),
    Amount.MEDIUM: _Density(0.7, 0.5, 1.2),
    Amount.FULL: _Density(1.5, 0.25, 0.9),
}


@dataclass(frozen=True, slots=True)
class _Place:
    """A note that could be ornamented: where, and what each kind would be worth there."""

    note: Note
    bar: Bar
    onset: float  # quarter notes from the start of the tune as it is written
    time: str  # which time through, where repeats are written out
    main: Sounding
    worth: Mapping[OrnamentKind, float]


def suggested(
    tune: Tune,
    voice: int,
    soundings: Mapping[str, Sounding],
    ornaments: Ornamenting,
    quarters_per_minute: float,
    amount: Amount,
    kept: frozenset[str],
    second_time: bool = False,
) -> Iterator[Ornament]:
    """Ornaments beyond those written, in the order of their notes.

    `kept`: ids of notes that must stay as they are. With `second_time` (repeats written out)
    what is played again is ornamented otherwise; with `Amount.WRITTEN` it alone is, lightly.
    """
    density = _DENSITIES.get(Amount.LIGHT if second_time and amount is Amount.WRITTEN else amount)
    if density is None or voice >= len(tune.voices):
        return
    finder = _Finder(tune, voice, soundings, ornaments, SECONDS_PER_MINUTE / quarters_per_minute)
    places = list(finder.places(kept))
    times = sorted({place.time for place in places}, key=lambda time: (len(time), time))
    chosen: dict[str, tuple[_Place, OrnamentKind]] = {}
    taken = list(finder.ornamented)
    for time in times:
        if second_time and amount is Amount.WRITTEN and not time:
            continue
        mine = [place for place in places if place.time == time]
        bars = len({place.bar.index for place in mine})
        _choose(mine, density, round(density.per_bar * bars), taken, chosen)
    for place, kind in sorted(chosen.values(), key=lambda each: each[0].onset):
        yield placed(place.note, place.main, kind, place.bar.number, Origin.SUGGESTED, ornaments)


def _choose(
    places: Sequence[_Place],
    density: _Density,
    most: int,
    taken: list[float],
    chosen: dict[str, tuple[_Place, OrnamentKind]],
) -> None:
    """Add the worthiest places to `chosen` (by note id), none too near to another."""
    worths: list[tuple[Mapping[OrnamentKind, float], _Place]] = [
        (_worth(place, chosen), place) for place in places
    ]
    worths.sort(key=lambda each: (-max(each[0].values(), default=0.0), each[1].onset))
    mine: list[tuple[_Place, Mapping[OrnamentKind, float]]] = []
    for worth, place in worths:
        if len(mine) >= most or max(worth.values(), default=0.0) < density.worth:
            break
        apart = density.apart * float(place.bar.meter.bar_length or FREE_BAR) - _ROUNDING
        at = bisect_left(taken, place.onset)
        if all(abs(place.onset - other) >= apart for other in taken[max(0, at - 1) : at + 1]):
            mine.append((place, worth))
            taken.insert(at, place.onset)
    before: OrnamentKind | None = None
    for place, worth in sorted(mine, key=lambda each: each[0].onset):
        kind = max(worth, key=lambda each: worth[each] - (_SAME_KIND if each is before else 0.0))
        chosen[place.note.id] = (place, kind)
        before = kind


def _worth(
    place: _Place, chosen: Mapping[str, tuple[_Place, OrnamentKind]]
) -> dict[OrnamentKind, float]:
    """What each kind is worth, less what the first time through has there already."""
    first = chosen.get(place.note.id.removesuffix(place.time)) if place.time else None
    if first is None:
        return dict(place.worth)
    return {
        kind: worth - (_SAME_THERE if kind is first[1] else _SAME_PLACE)
        for kind, worth in place.worth.items()
    }


class _Finder:
    """Goes through a voice and finds the places. `ornamented`: onsets that have one already."""

    def __init__(
        self,
        tune: Tune,
        voice: int,
        soundings: Mapping[str, Sounding],
        ornaments: Ornamenting,
        quarter: float,
    ) -> None:
        self._bars = tune.voices[voice].bars
        self._beats = written_beats(tune, voice)
        self._soundings = soundings
        self._ornaments = ornaments
        self._quarter = quarter
        self.ornamented: list[float] = []

    def places(self, kept: frozenset[str]) -> Iterator[_Place]:
        onset = Fraction(0)
        before: Note | None = None
        repeats = 0
        part_bar = 0
        for bar in self._bars:
            if bar.repeat_open or bar.part or (bar.index and self._ends(bar.index - 1)):
                part_bar = 0
            full = bar.meter.bar_length is None or bar.length >= bar.meter.bar_length
            for event in bar.events:
                if isinstance(event, Rest):
                    before = None
                if not isinstance(event, Note):
                    onset += event.length if isinstance(event, Rest) else 0
                    continue
                main = self._soundings.get(event.id)
                again = self._again(before, event)
                repeats = repeats + 1 if again else 0
                if written_demands(event):
                    self.ornamented.append(float(onset))
                elif main is not None and event.id not in kept and self._free(event, before, main):
                    head = part_bar if full else -1
                    worth = self._worth(event, bar, before, main, repeats, head)
                    if worth:
                        time = _time(event.id)
                        yield _Place(event, bar, float(onset), time, main, worth)
                before = event
                onset += event.length
            part_bar += full

    def _ends(self, index: int) -> bool:
        bar = self._bars[index]
        return bool(bar.repeat_close) or bar.closing in ("double", "final")

    def _again(self, before: Note | None, note: Note) -> bool:
        """Whether the very same hole sounds again, tongued."""
        return (
            before is not None
            and not before.tied
            and self._soundings.get(before.id) == self._soundings.get(note.id)
        )

    @staticmethod
    def _free(note: Note, before: Note | None, main: Sounding) -> bool:
        held = before is not None and before.tied and before.pitch == note.pitch
        return (
            not held
            and main.technique is Technique.NATURAL
            and len(note.pitches) == 1
            and note.tuplet is None
            and not any(each in ("staccato", "fermata") for each in note.decorations)
        )

    def _worth(
        self,
        note: Note,
        bar: Bar,
        before: Note | None,
        main: Sounding,
        repeats: int,
        part_bar: int,
    ) -> dict[OrnamentKind, float]:
        seconds = float(note.length) * self._quarter
        if seconds < SHORTEST_CUT:
            return {}
        beat = self._beats[note.id]
        strong = self._strength(beat, bar)
        begins = 0.0
        if beat == 1 and part_bar >= 0 and part_bar % PHRASE_BARS == 0:
            begins = 1.0 if part_bar == 0 else 0.5
        above = self._ornaments.neighbour(main, 1)
        below = self._ornaments.neighbour(main, -1)
        base = 0.5 * strong + begins
        found: dict[OrnamentKind, float] = {}
        if above is not None:
            found[OrnamentKind.CUT] = (2.6 if repeats % 2 else 0.8 if strong else 0.2) + base
        if below is not None and repeats and repeats % 2 == 0:
            found[OrnamentKind.TAP] = 2.4 + base
        roll = roll_kind(note.length, seconds)
        if roll in _ROLLS and above is not None and below is not None and not note.tied:
            found[roll] = (2.2 if roll is OrnamentKind.LONG_ROLL else 1.7) + base
        if above is not None and seconds >= max(LONG_WARBLE, SHORTEST_WARBLE) and not note.tied:
            found[OrnamentKind.WARBLE] = 1.4 + 0.3 * min(3.0, seconds) + 0.5 * base
        if seconds >= SHORTEST_SLIDE and self._ornaments.bend_into(main) is not None:
            rising = before is not None and before.pitch.midi < note.pitch.midi
            found[OrnamentKind.SLIDE] = 1.0 + (0.8 if rising else 0.0) + base
        beats = sum(bar.meter.beats)  # a triplet belongs to tunes in two or four, off the downbeat
        broken = beats in (2, 4) and strong < 2 and note.length == 1 and not note.tied
        if broken and TRIPLET_SECONDS[0] <= seconds <= TRIPLET_SECONDS[1]:
            found[OrnamentKind.TRIPLET] = 1.5 + 0.5 * base
        return found

    @staticmethod
    def _strength(beat: Fraction, bar: Bar) -> int:
        """2 on the first beat of a bar, 1 on another strong beat, else 0."""
        if beat == 1:
            return 2
        meter = bar.meter
        if meter.free or beat.denominator != 1:
            return 0
        beats = (meter.bar_length or Fraction(0)) / meter.beat_length
        halves = beats % 2 == 0 and beat == 1 + beats / 2
        return 1 if halves or meter.compound else 0


def _time(id_: str) -> str:
    """Which time through a note is, of a tune written out: `t2` of `n12t2`, else nothing."""
    head, mark, number = id_.rpartition("t")
    return mark + number if head and number.isdigit() else ""
