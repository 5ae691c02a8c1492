"""The tune as played, as the lungs meet it: what sounds when, how much air it moves, what rests.

A `Sound` is one written note, with all that ties join to it, each time that it is played; what
the harp lacks is silence, and graces belong to their note. Times are at speed 1.

Loudness follows p, mp, mf, f and their like, from the note that bears one to the next on the
page, however often a repeat comes back to it; a tune without any is mf.

Public: `AirLine`, `Sound`, `make_airline`, `lay_out`, `air_rate`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from reedwright.harp.model import Breath, Harp, Reed, Sounding
from reedwright.player.lungs import Lungs
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.model import Bar, Change, Note, Tune
from reedwright.tune.tempo import quarters_per_minute as usual_tempo
from reedwright.tune.unfold import Performance, PlayedNote, unfold

SECONDS_PER_MINUTE = 60.0
FERMATA_HOLD = 1.75
"""How much longer a note under a fermata is held: as the sound has it (common practice)."""

_FERMATAS = ("fermata", "invertedfermata")
_LOW_HOLES, _HIGH_HOLES = 3, 8  # the last low one, the first high one
# Steps louder than mf.
_LOUDNESS = {
    "pppp": -5, "ppp": -4, "pp": -3, "p": -2, "mp": -1, "mf": 0,
    "f": 1, "ff": 2, "fff": 3, "ffff": 4,
}  # fmt: skip
_SHORTEST_GAP = 1e-6  # seconds; less is rounding, not a rest


class Sound(NamedTuple):
    """One note from its start to its end, ties joined, as it is played once.

    `ids` are the written notes that it holds. `start` and `seconds` at speed 1, `onset` and
    `length` in quarter notes. `rate` is litres a second: above 0 the lungs fill (draw), below
    they empty (blow). `gap` is the silence after it, seconds at speed 1, and `gap_length` the
    same in quarter notes. `bar` is the printed number, `pass_number` counts from 1.
    """

    ids: tuple[str, ...]
    onset: float
    length: float
    start: float
    seconds: float
    rate: float
    gap: float
    gap_length: float
    bar: int
    pass_number: int

    @property
    def last_id(self) -> str:
        """The written note after which a breath stands."""
        return self.ids[-1]

    @property
    def place_after(self) -> float:
        """Quarter notes at the end of the silence after it."""
        return self.onset + self.length + self.gap_length

    def place(self, seconds: float) -> float:
        """Quarter notes so many seconds (speed 1) after its start, in it or the silence after."""
        if seconds <= self.seconds:
            return self.onset + self.length * (seconds / self.seconds if self.seconds else 0.0)
        into_gap = min((seconds - self.seconds) / self.gap, 1.0) if self.gap else 0.0
        return self.onset + self.length + self.gap_length * into_gap


@dataclass(frozen=True, slots=True)
class AirLine:
    """The sounds in order, with the lungs that they are for. `seconds` is the tune's length."""

    sounds: tuple[Sound, ...]
    lungs: Lungs
    performance: Performance
    seconds: float
    length: float
    at: Callable[[float], float]
    """Seconds (speed 1) of a place in quarter notes."""

    @property
    def places(self) -> dict[str, list[int]]:
        """For each written note that a sound ends with, the numbers of those sounds."""
        found: dict[str, list[int]] = {}
        for k, sound in enumerate(self.sounds):
            found.setdefault(sound.ids[-1], []).append(k)
        return found


def air_rate(sounding: Sounding, harp: Harp, lungs: Lungs) -> float:
    """Litres a second that this takes in (draw, above 0) or gives out (blow), at mf."""
    blow = sounding.breath is Breath.BLOW
    rate = -lungs.blow_rate if blow else lungs.draw_rate
    if sounding.hole <= _LOW_HOLES:
        rate *= lungs.low_hole
    elif sounding.hole >= _HIGH_HOLES:
        rate *= lungs.high_hole
    if sounding.technique.overbend:
        rate *= lungs.overbend
    elif sounding.bend:
        rate *= lungs.bend
    if Reed(sounding.hole, sounding.breath) in harp.isolated:
        rate *= lungs.valved
    return rate


def make_airline(arrangement: Arrangement, performance: Performance | None = None) -> AirLine:
    """The tune of an arrangement as the lungs meet it.

    `performance`: the tune already played out, where the caller has it.
    """
    lungs, harp = arrangement.player.lungs, arrangement.harp
    rates: dict[Sounding, float] = {}
    by_id: dict[str, float] = {}
    for id_, sounding in arrangement.soundings.items():
        if sounding not in rates:
            rates[sounding] = air_rate(sounding, harp, lungs)
        by_id[id_] = rates[sounding]
    tempo = arrangement.quarters_per_minute
    return lay_out(arrangement.tune, arrangement.voice, tempo, by_id, lungs, performance)


def lay_out(
    tune: Tune,
    voice: int,
    quarters_per_minute: float,
    rates: Mapping[str, float],
    lungs: Lungs,
    performance: Performance | None = None,
) -> AirLine:
    """A tune whose notes move air at these rates (litres a second at mf, by id); the others
    are silent. `quarters_per_minute`: 0 for the tune's own tempo."""
    if performance is None:
        performance = unfold(tune, voice)
    clock = _clock(tune, quarters_per_minute, performance)
    loudness = _loudness(tune.voices[voice].bars if voice < len(tune.voices) else ())
    joined = _joined(performance.notes, rates)
    ending = performance.length.numerator / performance.length.denominator
    sounds: list[Sound] = []
    for k, (ids, play, onset, length) in enumerate(joined):
        following = joined[k + 1][2] if k + 1 < len(joined) else ending
        start, stop = clock(onset), clock(onset + length)
        gap = clock(following) - stop
        if gap < _SHORTEST_GAP:
            gap = 0.0
        first = ids[0]
        factor = lungs.loudness_step ** loudness.get(first, 0) if loudness else 1.0
        sounds.append(
            Sound(
                tuple(ids),
                onset,
                length,
                start,
                stop - start,
                rates[first] * factor,
                gap,
                following - onset - length if gap else 0.0,
                play.bar.number,
                play.pass_number,
            )
        )
    return AirLine(tuple(sounds), lungs, performance, clock(ending), ending, clock)


def _joined(
    notes: Sequence[PlayedNote], rates: Mapping[str, float]
) -> list[tuple[list[str], PlayedNote, float, float]]:
    """What sounds once: ids, the first note as played, onset and length in quarter notes."""
    joined: list[tuple[list[str], PlayedNote, float, float]] = []
    held_on = False  # whether a sound is there for a tie to hold on
    for play in notes:
        note = play.note
        length = note.length.numerator / note.length.denominator
        if play.continues and held_on and not note.graces:
            ids, first, onset, so_far = joined[-1]
            ids.append(note.id)
            joined[-1] = (ids, first, onset, so_far + length)
            continue
        held_on = note.id in rates
        if held_on:
            onset = play.onset.numerator / play.onset.denominator
            joined.append(([note.id], play, onset, length))
    return joined


def _loudness(bars: tuple[Bar, ...]) -> dict[str, int]:
    """Steps above mf of each note, in the order of the page; empty where nothing is marked."""
    notes = [note for bar in bars for note in bar.notes]
    if not any(each in _LOUDNESS for note in notes for each in note.decorations):
        return {}
    found: dict[str, int] = {}
    level = 0
    for note in notes:
        for each in note.decorations:
            level = _LOUDNESS.get(each, level)
        found[note.id] = level
    return found


def _clock(tune: Tune, tempo: float, performance: Performance) -> Callable[[float], float]:
    """Seconds for places in quarter notes; changes of tempo keep their proportion."""
    own = usual_tempo(tune)
    start = tempo or own
    holds = [
        (float(play.onset), float(play.onset + play.note.length))
        for play in performance.notes
        if play.note.decorations and any(each in _FERMATAS for each in play.note.decorations)
    ]
    tempi = _tempo_changes(performance, start / own)
    quarter = SECONDS_PER_MINUTE / start
    if not holds and not tempi:
        return lambda place: place * quarter
    tempi = [(0.0, start), *tempi]
    starts = [place for place, _ in tempi]
    edges = sorted({*starts, *(edge for hold in holds for edge in hold)})
    seconds, rates, now = [0.0], [], 0.0
    for k, edge in enumerate(edges):
        rate = SECONDS_PER_MINUTE / tempi[bisect_right(starts, edge) - 1][1]
        if any(begin <= edge < end for begin, end in holds):
            rate *= FERMATA_HOLD
        rates.append(rate)
        if k + 1 < len(edges):
            now += (edges[k + 1] - edge) * rate
            seconds.append(now)

    def clock(place: float) -> float:
        k = max(bisect_right(edges, place) - 1, 0)
        return seconds[k] + (place - edges[k]) * rates[k]

    return clock


def _tempo_changes(performance: Performance, proportion: float) -> list[tuple[float, float]]:
    found: list[tuple[float, float]] = []
    for played in performance.bars:
        if not any(isinstance(event, Change) and event.tempo for event in played.bar.events):
            continue
        place = played.onset
        for event in played.bar.events:
            if isinstance(event, Note) or not isinstance(event, Change):
                place += event.length
            elif event.tempo is not None and event.tempo.quarters_per_minute:
                found.append((float(place), float(event.tempo.quarters_per_minute) * proportion))
    return found
