"""Where a breath may be taken, and how natural it is there.

A place is the end of a written note (of the last one that a tie joins). It is judged each time
that the note is played, and the least natural time counts, since a mark is obeyed every time.

* Phrases end every two bars of a part, counted from its first full bar; every fourth bar
  ends a longer one, and the last a part. Where an upbeat leads on, the phrase ends before it:
  the tune's own upbeat if a note ends there, else after a long note that shorter ones follow
  within the last beat, else at the bar line.
* Before a rest is as good as the end of a phrase: there is time.
* A long note lasts 1.75 times the tune's mean note, or half a bar, or more.
* Between two other notes a breath is a last thought: less bad where the beams part, worse in a
  quick group, and worst under a slur or in a tuplet. A roll written out is never parted.
* A dropped note is the last resort: short, off the beat, not the first of its bar, under no
  slur and without ornament; least missed where it repeats a note or leads to a new phrase.

Costs are judgement, no source: one is a breath at the end of a part.

Public: `Place`, `Places`, `split_base`.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from math import ceil
from typing import NamedTuple

from reedwright.tab.breath.airline import AirLine, Sound
from reedwright.tab.breath.model import BreathReason
from reedwright.tune.form import Part, find_parts
from reedwright.tune.model import Bar, Meter, Note, Rest
from reedwright.tune.unfold import PlayedNote

PART_COST = 1.0
BEFORE_REST_COST = 1.0
LONG_PHRASE_COST = 1.2  # every fourth bar
SHORT_PHRASE_COST = 1.6  # every second bar
LONG_NOTE_COST = 2.4
BEAM_GAP_COST = 4.5  # between two notes where no beam joins them
WITHIN_BEAM_COST = 7.0
SLUR_COST = 12.0  # under a slur or in a tuplet
DROPPED_COST = 9.0
DROPPED_EASED = 1.5  # less where the note repeats its neighbour or leads to a phrase
SHORT_COST = 0.5  # more where the note before is not long: little time
VERY_SHORT_COST = 1.5  # more where it is shorter than most: hardly any

PHRASE_BARS, LONG_PHRASE_BARS = 2, 4
LONG_NOTE = 1.75  # times the mean note
VERY_SHORT_NOTE = 0.75  # times the mean note
_EPSILON = 1e-6
_SPLIT = re.compile(r"(.+)s\d+")
_ORNAMENTS = frozenset({"roll", "trill", "turn", "mordent", "uppermordent", "lowermordent"})


class Place(NamedTuple):
    """A place for a breath: after this note (`dropped`: through it), and what it costs.

    `sounds` numbers the sounds of the air line that end with the note. `rhyme` is the place
    in its four-bar phrase, bars and quarter notes: equal in phrases that match.
    """

    note_id: str
    bar: int
    reason: BreathReason
    cost: float
    sounds: tuple[int, ...]
    rhyme: tuple[int, float]

    @property
    def dropped(self) -> bool:
        return self.reason is BreathReason.DROPPED_NOTE


def split_base(id_: str, known: Mapping[str, object]) -> str:
    """The note that a split note (`n12s2`) of a roll belongs to, or the note itself."""
    match = _SPLIT.fullmatch(id_)
    return match[1] if match and match[1] in known else id_


class Places:
    """The places of a tune, each kind worked out when it is asked for.

    `bars` are those of the page, `barred` the notes after which there must be no breath.
    """

    def __init__(self, line: AirLine, bars: tuple[Bar, ...], barred: Collection[str] = ()) -> None:
        self._line = line
        self._barred = barred
        self._page = _read_page(bars)
        self._grid = _grid(line)
        count = len(line.sounds)
        self._mean = sum(sound.length for sound in line.sounds) / count if count else 0.0
        self._lengths = _Lengths(
            min(LONG_NOTE * self._mean, self._grid.starts[0][1] / 2) - _EPSILON,
            VERY_SHORT_NOTE * self._mean - _EPSILON,
        )

    def after_notes(self) -> list[Place]:
        """Every place after a note, in the order of playing."""
        line, page, grid = self._line, self._page, self._grid
        last = len(line.sounds) - 1
        found: list[Place] = []
        for id_, numbers in line.places.items():
            if numbers == [last] or id_ in self._barred:
                continue  # after the last note there is nothing that a breath would be for
            if page.whole.get(id_, id_) != id_:
                continue  # inside of a roll that is written out
            cost, reason = max(
                (_judged(line, k, page, grid, self._lengths) for k in numbers if k < last),
                key=_cost,
            )
            rhyme = grid.rhyme(line.sounds[numbers[0]])
            found.append(Place(id_, page.bar[id_], reason, cost, tuple(numbers), rhyme))
        return found

    def through_notes(self) -> list[Place]:
        """Every place where a note can be dropped, in the order of playing."""
        line, page, grid = self._line, self._page, self._grid
        off_beats = _off_beats(line.performance.notes)
        found: list[Place] = []
        for id_, numbers in line.places.items():
            if id_ in self._barred or id_ not in page.bare or id_ not in off_beats:
                continue
            cost = _dropped_cost(line, numbers, page, grid, self._mean)
            if cost is not None:
                rhyme = grid.rhyme(line.sounds[numbers[0]])
                reason = BreathReason.DROPPED_NOTE
                found.append(Place(id_, page.bar[id_], reason, cost, tuple(numbers), rhyme))
        return found


def _cost(judged: tuple[float, BreathReason]) -> float:
    return judged[0]


class _Page(NamedTuple):
    """What stands on the page at each note, by id.

    `inside`: a slur or tuplet goes on after it. `beamed`: a beam goes on. `whole`: the last
    split note of the roll that it is a part of (itself, where it is none). `bare`: no slur,
    tuplet, tie, grace or ornament touches it. `first`: the first of its bar.
    """

    bar: dict[str, int]
    inside: set[str]
    beamed: set[str]
    whole: dict[str, str]
    bare: set[str]
    first: set[str]
    notes: dict[str, Note]


def _read_page(bars: tuple[Bar, ...]) -> _Page:
    page = _Page({}, set(), set(), {}, set(), set(), {})
    for bar in bars:
        for note in bar.notes:
            page.notes[note.id] = note
    depth = 0
    rolls: dict[str, str] = {}
    for bar in bars:
        first = True
        for event in bar.events:
            if isinstance(event, Rest):
                first = False
            if not isinstance(event, Note):
                continue
            note = event
            page.bar[note.id] = bar.number
            if first:
                page.first.add(note.id)
            first = False
            touched = depth > 0 or note.slurs_open or note.tuplet or note.tied or note.graces
            depth = max(depth + note.slurs_open - note.slurs_close, 0)
            if depth or (note.tuplet and not note.tuplet.last):
                page.inside.add(note.id)
            if note.beamed:
                page.beamed.add(note.id)
            if not touched and not _ORNAMENTS.intersection(note.decorations):
                page.bare.add(note.id)
            base = split_base(note.id, page.notes)
            if base != note.id:
                rolls[base] = note.id
    for id_ in page.notes:
        base = split_base(id_, page.notes)
        if base in rolls:
            page.whole[id_] = rolls[base]
            page.bare.discard(id_)
    return page


class _Grid(NamedTuple):
    """Phrase ends as numbers of the sounds that they stand after, each with its reason and
    cost; and the parts' first full bars, to count places from."""

    ends: dict[int, tuple[float, BreathReason]]
    starts: list[tuple[float, float]]  # (first full bar, bar length) in quarter notes

    def rhyme(self, sound: Sound) -> tuple[int, float]:
        place = sound.onset + sound.length
        k = max(bisect_left(self.starts, (place, 0.0)) - 1, 0)
        start, bar_length = self.starts[k]
        # The end of a bar belongs to it, not to the next one.
        bars, into = divmod(place - start - _EPSILON, bar_length)
        return int(bars) % LONG_PHRASE_BARS, round(into + _EPSILON, 3)


def _grid(line: AirLine) -> _Grid:
    parts = find_parts(line.performance)
    bars = [(p.onset.numerator / p.onset.denominator, p.bar) for p in line.performance.bars]
    openings = [_opening(bars, part) for part in parts]
    starts = [(each.start, each.bar_length) for each in openings]
    sounds_end = [sound.onset + sound.length for sound in line.sounds]
    upbeat = starts[0][0] if starts and starts[0][0] < starts[0][1] - _EPSILON else 0.0
    ends: dict[int, tuple[float, BreathReason]] = {}
    for n, (start, bar_length, beat) in enumerate(openings):
        if n + 1 < len(openings):
            stop = openings[n + 1].start
        else:  # the bar line after the last bar, which an upbeat at the start may cut short
            stop = start + ceil((line.length - start) / bar_length - _EPSILON) * bar_length
        count = max(round((stop - start) / bar_length), 1)
        for bar in range(PHRASE_BARS, count, PHRASE_BARS):
            k = _phrase_end(line, sounds_end, start + bar * bar_length, beat, upbeat)
            long_phrase = bar % LONG_PHRASE_BARS == 0
            cost = LONG_PHRASE_COST if long_phrase else SHORT_PHRASE_COST
            if k is not None:
                ends.setdefault(k, (cost, BreathReason.PHRASE_END))
        # The last part's end too: a note that is played there and before is judged each time.
        here = 0.0 if _leads_straight_on(bars, stop, bar_length, upbeat) else upbeat
        k = _phrase_end(line, sounds_end, stop, beat, here)
        if k is not None:
            ends[k] = (PART_COST, BreathReason.PART_END)
    return _Grid(ends, starts or [(0.0, 4.0)])


def _leads_straight_on(
    bars: list[tuple[float, Bar]], stop: float, bar_length: float, upbeat: float
) -> bool:
    """Whether the bar that ends here is cut short for an upbeat that is not played this time."""
    k = bisect_left(bars, stop - _EPSILON, key=_onset) - 1
    if k < 0:
        return False
    length = float(bars[k][1].length)
    ends_here = abs(bars[k][0] + length - stop) < _EPSILON
    return ends_here and upbeat < length < bar_length - _EPSILON


class _Opening(NamedTuple):
    """Where a part's first full bar begins, how long its bars are, and a beat: quarter notes."""

    start: float
    bar_length: float
    beat: float


def _opening(bars: list[tuple[float, Bar]], part: Part) -> _Opening:
    first = bisect_left(bars, part.onset - _EPSILON, key=_onset)
    last = bisect_left(bars, part.onset + part.length - _EPSILON, key=_onset)
    inside = bars[first:last]
    meter = inside[0][1].meter
    full, beat = meter.bar_length, float(meter.beat_length)
    if full is None:  # free metre: bars as they stand
        longest = max(float(bar.length) for _, bar in inside)
        return _Opening(part.onset, longest or 4.0, beat)
    for onset, bar in inside:
        if bar.length >= full:
            return _Opening(onset, float(full), beat)
    return _Opening(part.onset, float(full), beat)


def _onset(bar: tuple[float, Bar]) -> float:
    return bar[0]


def _phrase_end(
    line: AirLine, ends: list[float], bar_line: float, beat: float, upbeat: float
) -> int | None:
    """The sound with which the phrase closes that the bar line ends, if any."""
    last = bisect_left(ends, bar_line + _EPSILON) - 1
    if last < 0:
        return None
    earliest = bar_line - max(beat, upbeat) - _EPSILON
    lead = [k for k in range(max(last - 8, 0), last + 1) if ends[k] >= earliest]
    if not lead:
        # A note is held, or a rest lies, over the bar line: the sound before is the end.
        return last if line.sounds[last].gap else None
    for k in lead:
        if line.sounds[k].gap:
            return k  # before a rest
    if upbeat:
        for k in lead:
            if abs(ends[k] - (bar_line - upbeat)) < _EPSILON:
                return k
    # A long note with shorter ones after it: these lead on.
    longest = max(lead, key=lambda k: (line.sounds[k].length, k))
    if line.sounds[longest].length >= 2 * line.sounds[last].length - _EPSILON:
        return longest
    return last if abs(ends[last] - bar_line) < _EPSILON else None


class _Lengths(NamedTuple):
    """What counts as a long note and as a very short one, quarter notes."""

    long: float
    very_short: float

    def haste(self, sound: Sound) -> float:
        """What it costs more to breathe after this note."""
        if sound.length >= self.long:
            return 0.0
        return VERY_SHORT_COST if sound.length < self.very_short else SHORT_COST


def _judged(
    line: AirLine, k: int, page: _Page, grid: _Grid, lengths: _Lengths
) -> tuple[float, BreathReason]:
    sound = line.sounds[k]
    id_ = sound.last_id
    if sound.gap:
        end = grid.ends.get(k)
        return BEFORE_REST_COST, end[1] if end else BreathReason.PHRASE_END
    if id_ in page.inside:
        return SLUR_COST, BreathReason.BETWEEN
    if k in grid.ends:
        cost, reason = grid.ends[k]
        return cost + lengths.haste(sound), reason
    if sound.length >= lengths.long:
        return LONG_NOTE_COST, BreathReason.LONG_NOTE
    cost = WITHIN_BEAM_COST if id_ in page.beamed else BEAM_GAP_COST
    return cost + lengths.haste(sound), BreathReason.BETWEEN


def _dropped_cost(
    line: AirLine, numbers: list[int], page: _Page, grid: _Grid, mean: float
) -> float | None:
    """What it costs to drop this note each time; None where no player would."""
    worst = 0.0
    for k in numbers:
        sound = line.sounds[k]
        id_ = sound.last_id
        if len(sound.ids) > 1 or id_ in page.first:
            return None
        if sound.length > mean + _EPSILON or not 0 < k < len(line.sounds) - 1:
            return None
        before, after = line.sounds[k - 1], line.sounds[k + 1]
        if before.gap or sound.gap or before.last_id in page.inside:
            return None
        midi = page.notes[id_].pitch.midi
        neighbours = [page.notes[before.last_id].pitch.midi, page.notes[after.ids[0]].pitch.midi]
        missed_less = midi in neighbours or k in grid.ends or k - 1 in grid.ends
        worst = max(worst, DROPPED_COST - (DROPPED_EASED if missed_less else 0.0))
    return worst


def _off_beats(notes: Sequence[PlayedNote]) -> frozenset[str]:
    """The notes that begin between beats."""
    found: set[str] = set()
    known: set[str] = set()
    meter: Meter | None = None
    in_crotchets, unit = Fraction(1), Fraction(1)
    for play in notes:
        if play.note.id in known:
            continue
        known.add(play.note.id)
        if play.bar.meter is not meter:
            meter = play.bar.meter
            in_crotchets = meter.beat_length
            unit = in_crotchets if meter.compound else min(in_crotchets, Fraction(1))
        if _between(play.beat, in_crotchets, unit):
            found.add(play.note.id)
    return frozenset(found)


@lru_cache(maxsize=4096)
def _between(beat: Fraction, in_crotchets: Fraction, unit: Fraction) -> bool:
    return (beat - 1) * in_crotchets % unit != 0
