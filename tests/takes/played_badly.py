"""Takes with planted events: what was played, and the truth about it.

A tune is played from its timeline bar by bar, in another order where that is asked for
(repeats left out, parts played again, false starts), in an unsteady tempo, with mistakes.
The result is notes for `heard_of` or `sounded`, and for every written note when it was to sound.

Places are counted so: parts as in `find_parts`, from 0; bars in the order of this performance,
false starts apart, from 0 (see `Performance.bars`); notes among the written notes of this
performance, graces and false starts apart, from 0 (see `Performance.written`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import NamedTuple

import numpy as np
from soundfont_takes import Played

from reedwright.sound.clock import Clock
from reedwright.sound.timing import CutPlace, plan
from reedwright.tab.arrangement import Arrangement
from reedwright.tune.form import find_parts
from reedwright.tune.tempo import quarters_per_minute
from reedwright.tune.unfold import unfold

LEAD = 1.0  # seconds before anything sounds
STOP = 1.1  # seconds that a player stops for before beginning again
STEP = 0.1  # seconds in which the tempo holds still
DRAGGED = 0.7  # the tempo of a dragged bar, as a share
FLAT_CENTS = 40.0
SHORT_NOTE = 0.05  # seconds that a note keeps when something takes its place


class Deed(StrEnum):
    """What was done to a note."""

    AS_WRITTEN = "as written"
    WRONG = "wrong"
    MISSED = "missed"
    ADDED = "added"
    FLAT = "flat"
    FALSE_START = "false start"
    NOODLED = "noodled"  # before, between or after


class Truth(NamedTuple):
    """A note of the performance, or one that was left out.

    `time` counts the times through the note, false starts apart (0 in them); `round` those
    through the tune. `start` and `end` in seconds: where it would be for a missed one.
    `midi` is what sounds (what is written, for a missed one). `bar` is the index in the voice.
    """

    id: str
    time: int
    start: float
    end: float
    deed: Deed
    midi: float
    bar: int
    round: int
    is_grace: bool = False


class PlayedBar(NamedTuple):
    """A bar of the performance, false starts apart: its index in the voice, start and end."""

    index: int
    start: float
    end: float
    round: int


class Performance(NamedTuple):
    """What was played, the truth about it by start, the bars, and the part letters by round."""

    notes: tuple[Played, ...]
    truth: tuple[Truth, ...]
    bars: tuple[PlayedBar, ...]
    parts: tuple[str, ...]

    @property
    def written(self) -> list[Truth]:
        """The written notes in order, graces, false starts and all that was added apart."""
        apart = (Deed.FALSE_START, Deed.ADDED, Deed.NOODLED)
        return [t for t in self.truth if t.id and t.deed not in apart and not t.is_grace]


@dataclass(frozen=True)
class _Entry:
    """A note on its way: seconds of even music, from which bar, in which round. `shaken`: it is
    a later stretch of the note of that id."""

    start: float
    end: float
    midi: float
    id: str
    is_grace: bool
    bar: int
    round: int
    false: bool
    velocity: float
    deed: Deed = Deed.AS_WRITTEN
    shaken: str = ""


class _Stretch(NamedTuple):
    """A bar laid out: even music from `start` to `end` seconds."""

    index: int
    start: float
    end: float
    round: int
    false: bool


def perform(
    arrangement: Arrangement,
    *,
    rounds: int = 1,
    skip_repeats: Sequence[int] = (),
    again: Sequence[int] = (),
    first_part: int = 0,
    false_start: int | None = None,
    breaks: Sequence[tuple[int, int]] = (),
    between: float = 0.0,
    drift: float = 0.0,
    rubato: float = 0.0,
    wrong: Sequence[int] = (),
    missed: Sequence[int] = (),
    added: Sequence[int] = (),
    flat: Sequence[int] = (),
    held_over: Sequence[int] = (),
    dragged_bars: Sequence[int] = (),
    noodling: tuple[float, float] = (0.0, 0.0),
    graces: bool = True,
    semitones: int = 0,
    speed: float = 1.0,
    lilt: bool = True,
    wrong_by: int | None = None,
    seed: int = 1,
) -> Performance:
    """Play a tune.

    `rounds`: how often the whole; `skip_repeats`, `again`: parts (by their place in the tune as
    played) that the first round leaves out or plays once more; `first_part`: the part that the
    first round begins with. `false_start`: break off after so many notes and begin anew.
    `breaks`: (bar, back): break off in the middle of that bar and go back so many bars.
    `between`: seconds of rest between rounds. `drift`: how much faster it has become at the end
    (0.15). `rubato`: the deviation of the tempo's wavering, as a share. `wrong`, `missed`,
    `added` (an extra note within that note), `flat` (by 40 cents), `held_over` (that note
    is not played again but held from the one before): notes. `dragged_bars`: played at 0.7 of
    the tempo. `noodling`: seconds of stray notes before and after. `graces`: whether cuts are
    played. `wrong_by`: semitones, else by lot one to three up or down.
    """
    random = np.random.default_rng(seed)
    route, letters = _route(arrangement, rounds, skip_repeats, again, first_part)
    entries, stretches = _laid_out(arrangement, route, false_start, breaks, between, speed, lilt)
    if not graces:
        entries = _without_graces(entries)
    warp = _Warp(stretches, dragged_bars, drift, rubato, random)
    entries = [replace(each, start=warp(each.start), end=warp(each.end)) for each in entries]
    entries = _with_deeds(entries, wrong, missed, added, flat, held_over, wrong_by, random)
    entries = _among_noodles(entries, noodling, random)
    entries = [replace(each, midi=each.midi + semitones) for each in entries]
    bars = tuple(
        PlayedBar(each.index, LEAD + noodling[0] + warp(each.start), 0.0, each.round)
        for each in stretches
        if not each.false
    )
    ends = [LEAD + noodling[0] + warp(each.end) for each in stretches if not each.false]
    return Performance(
        _notes(entries),
        _truth(entries),
        tuple(bar._replace(end=end) for bar, end in zip(bars, ends, strict=True)),
        letters,
    )


def _route(
    arrangement: Arrangement,
    rounds: int,
    skip: Sequence[int],
    again: Sequence[int],
    first_part: int,
) -> tuple[list[tuple[int, int]], tuple[str, ...]]:
    """(place among the bars as played, round) in the order of this performance, and letters."""
    performance = unfold(arrangement.tune, arrangement.voice)
    parts = find_parts(performance)
    starts = [part.onset for part in parts]
    places: list[list[int]] = [[] for _ in parts]
    for k, played in enumerate(performance.bars):
        part = max((p for p, onset in enumerate(starts) if onset <= played.onset), default=0)
        places[part].append(k)
    route: list[tuple[int, int]] = []
    letters: list[str] = []
    for turn in range(1, rounds + 1):
        order = list(range(len(parts)))
        if turn == 1:
            order = [p for p in order if p >= first_part and p not in skip]
            order = [p for part in order for p in [part] * (2 if part in again else 1)]
        pickup = [k for k in places[0] if performance.bars[k].bar.number == 0][:1]
        same = len(parts) > 1 and parts[0].letter == parts[1].letter
        same = same and not set(pickup) & set(places[1]) and bool(pickup)
        same = same and performance.bars[places[1][0]].bar.number != 0
        if turn == 1 and 0 in skip and first_part == 0 and same:
            route += [(k, turn) for k in pickup]  # the anacrusis is played all the same
        route += [(k, turn) for part in order for k in places[part]]
        letters.append("".join(parts[part].letter for part in order))
    return route, tuple(letters)


def _laid_out(
    arrangement: Arrangement,
    route: list[tuple[int, int]],
    false_start: int | None,
    breaks: Sequence[tuple[int, int]],
    between: float,
    speed: float,
    lilt: bool,
) -> tuple[list[_Entry], list[_Stretch]]:
    performance = unfold(arrangement.tune, arrangement.voice)
    tempo = quarters_per_minute(arrangement.tune)
    timeline = plan(arrangement, None, speed, lilt, False, CutPlace.ON_BEAT)
    clock = Clock(performance, ((timeline.tempi[0]),), speed)
    assert timeline.tempi[0].quarters_per_minute == tempo
    bounds = [timeline.tune_start + clock(float(bar.onset)) for bar in performance.bars]
    bounds.append(timeline.tune_start + clock(float(performance.length)))
    per_bar: list[list[_Entry]] = [[] for _ in performance.bars]
    onsets = [float(bar.onset) for bar in performance.bars]
    for note in timeline.notes:
        k = int(np.searchsorted(onsets, float(note.quarters[0]) + 1e-9)) - 1
        start, end = note.span.start - bounds[k], note.span.end - bounds[k]
        index = performance.bars[k].bar.index
        before = per_bar[k][-1] if per_bar[k] else None
        shaken = before is not None and note.id in (before.id, before.shaken)
        velocity = 0.4 + 0.5 * note.velocity
        per_bar[k].append(
            _Entry(
                start,
                end,
                note.midi,
                "" if shaken else note.id,
                note.is_grace or shaken,
                index,
                0,
                False,
                velocity,
                shaken=note.id if shaken else "",
            )
        )
    entries: list[_Entry] = []
    stretches: list[_Stretch] = []
    now = 0.0

    def add(place: int, notes: int | None, false: bool) -> None:
        nonlocal now
        k, turn = route[place]
        index, length = performance.bars[k].bar.index, bounds[k + 1] - bounds[k]
        chosen = per_bar[k] if notes is None else per_bar[k][:notes]
        if notes is not None:
            length = max((each.end for each in chosen), default=0.0)
        entries.extend(
            replace(each, start=now + each.start, end=now + each.end, round=turn, false=false)
            for each in chosen
        )
        stretches.append(_Stretch(index, now, now + length, turn, false))
        now += length

    if false_start is not None:
        left, place = false_start, 0
        while left > 0 and place < len(route):
            count = len(per_bar[route[place][0]])
            add(place, min(left, count) if left < count else None, True)
            left, place = left - count, place + 1
        now += STOP
    going_back = dict(breaks)
    for place in range(len(route)):
        if place and route[place][1] != route[place - 1][1]:
            now += between
        if place in going_back:
            half = max(1, len(per_bar[route[place][0]]) // 2)
            back = min(going_back[place], place)
            # What is played again was a false start.
            first = place - back
            _mark_false(entries, stretches, back)
            add(place, half, True)
            now += STOP
            for again in range(first, place):
                add(again, None, False)
        add(place, None, False)
    entries.sort(key=lambda each: each.start)
    return _no_longer_than_the_next(entries), stretches


def _mark_false(entries: list[_Entry], stretches: list[_Stretch], bars: int) -> None:
    """The last bars were in vain."""
    if not bars:
        return
    real = [k for k, each in enumerate(stretches) if not each.false][-bars:]
    since = stretches[real[0]].start
    for k in real:
        stretches[k] = stretches[k]._replace(false=True)
    for k, entry in enumerate(entries):
        if entry.start >= since - 1e-9:
            entries[k] = replace(entry, false=True)


def _no_longer_than_the_next(entries: list[_Entry]) -> list[_Entry]:
    ends = [each.start for each in entries[1:]] + [np.inf]
    return [
        replace(each, end=min(each.end, max(end, each.start + 0.01)))
        for each, end in zip(entries, ends, strict=True)
    ]


def _without_graces(entries: list[_Entry]) -> list[_Entry]:
    """Each note begins where its first grace began."""
    kept: list[_Entry] = []
    start: float | None = None
    for entry in entries:
        if entry.is_grace:
            start = entry.start if start is None else start
            continue
        kept.append(entry if start is None else replace(entry, start=start))
        start = None
    return kept


class _Warp:
    """From even music to seconds of the performance."""

    def __init__(
        self,
        stretches: list[_Stretch],
        dragged: Sequence[int],
        drift: float,
        rubato: float,
        random: np.random.Generator,
    ) -> None:
        total = max((each.end for each in stretches), default=0.0) + 5.0
        self._at = np.arange(0.0, total + STEP, STEP)
        rate = np.log1p(drift) * self._at / total
        wave = random.standard_normal(len(self._at))
        smooth = np.convolve(wave, np.hanning(17), mode="same")  # over 1.6 s
        rate = rate + rubato * smooth / max(1e-9, float(smooth.std()))
        real = [each for each in stretches if not each.false]
        for bar in dragged:
            inside = (self._at >= real[bar].start) & (self._at < real[bar].end)
            rate[inside] += np.log(DRAGGED)
        self._seconds = np.concatenate([[0.0], np.cumsum(STEP * np.exp(-rate[:-1]))])

    def __call__(self, music: float) -> float:
        return float(np.interp(music, self._at, self._seconds))


def _with_deeds(
    entries: list[_Entry],
    wrong: Sequence[int],
    missed: Sequence[int],
    added: Sequence[int],
    flat: Sequence[int],
    held_over: Sequence[int],
    wrong_by: int | None,
    random: np.random.Generator,
) -> list[_Entry]:
    done: list[_Entry] = []
    count = -1
    for entry in entries:
        if entry.false or entry.is_grace:
            done.append(replace(entry, deed=Deed.FALSE_START) if entry.false else entry)
            continue
        count += 1
        if count in held_over and done and done[-1].midi == entry.midi:
            done[-1] = replace(done[-1], end=entry.end)
            done.append(replace(entry, deed=Deed.MISSED))
        elif count in missed:
            done.append(replace(entry, deed=Deed.MISSED))
        elif count in wrong:
            by = wrong_by or int(random.choice([-3, -2, -1, 1, 2, 3]))
            done.append(replace(entry, midi=entry.midi + by, deed=Deed.WRONG))
        elif count in flat:
            done.append(replace(entry, midi=entry.midi - FLAT_CENTS / 100, deed=Deed.FLAT))
        elif count in added:
            half = (entry.start + entry.end) / 2
            by = int(random.choice([-4, -2, 2, 3, 5]))
            done.append(replace(entry, end=half - 0.01))
            done.append(replace(entry, start=half, midi=entry.midi + by, id="", deed=Deed.ADDED))
        else:
            done.append(entry)
    return done


def _among_noodles(
    entries: list[_Entry], noodling: tuple[float, float], random: np.random.Generator
) -> list[_Entry]:
    """All later by the lead, with stray notes before and after."""
    shift = LEAD + noodling[0]
    last = shift + max((each.end for each in entries), default=0.0)
    around = [round(each.midi) for each in entries] or [67]
    moved = [replace(each, start=each.start + shift, end=each.end + shift) for each in entries]
    for begin, seconds in ((LEAD / 2, noodling[0] - 0.5), (last + 1.5, noodling[1])):
        now = begin
        while now < begin + seconds - 0.2:
            length = float(random.uniform(0.08, 0.6))
            midi = int(random.integers(min(around) - 3, max(around) + 4))
            end = min(now + length, begin + seconds)
            moved.append(_Entry(now, end, midi, "", False, -1, 0, False, 0.6, Deed.NOODLED))
            now = end + float(random.choice([0.01, 0.05, 0.4]))
    return sorted(moved, key=lambda each: each.start)


def _notes(entries: list[_Entry]) -> tuple[Played, ...]:
    return tuple(
        Played(
            each.start,
            max(each.end, each.start + 0.01),
            each.midi,
            each.id,
            each.is_grace,
            each.velocity,
        )
        for each in entries
        if each.deed is not Deed.MISSED
    )


def _truth(entries: list[_Entry]) -> tuple[Truth, ...]:
    times: dict[str, int] = {}
    found: list[Truth] = []
    for each in entries:
        counted = each.id and not each.false and each.deed is not Deed.ADDED
        if counted:
            times[each.id] = times.get(each.id, 0) + 1
        found.append(
            Truth(
                each.id,
                times[each.id] if counted else 0,
                each.start,
                each.end,
                each.deed,
                each.midi,
                each.bar,
                each.round,
                each.is_grace,
            )
        )
    return tuple(found)
