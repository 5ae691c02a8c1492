"""Tempo, bars that rush or drag, and how unevenly quavers are played.

A bar is compared with the tempo of the bars around it, which may rise or fall: a straight line
through their logarithms by the median of slopes (Theil 1950, Sen 1968), the bar itself left
out. So neither a take that speeds up slowly nor one bar beside it makes a bar stand out.

Public: `bar_timings`, `tempo_found`, `lilt_found`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from fractions import Fraction
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from reedwright.sound.lilt import lilt_of
from reedwright.takes.model import FollowedBar, Following, PassageKind
from reedwright.takes.report.model import (
    BarTiming,
    BarVerdict,
    JudgedNote,
    LiltFound,
    TempoFound,
    Verdict,
)

AROUND = 5  # bars on either side that a bar is compared with
# A bar is told of where it is off by this share, by this long and by this many times what is
# usual in this take (judgement, tried on takes with planted faults).
OFF_SHARE, OFF_SECONDS, OFF_TIMES = 0.07, 0.06, 4.0
STOPPED = 1.8  # times its expected length: the player stopped; not a matter of tempo
FEWEST_PAIRS = 6

Array = npt.NDArray[np.float64]


class _Clock:
    """Seconds of each place in the music, by the notes that were heard."""

    def __init__(self, following: Following, notes: Sequence[JudgedNote]) -> None:
        at: dict[Fraction, float] = {}
        before = True
        for judged in notes:
            followed = following.notes[judged.index]
            # A grace note on the beat comes first: with it the beat begins. Where the note before
            # was not heard the two may have run together, so this one's onset is not certain.
            if followed.heard and before:
                at.setdefault(followed.onset, float(followed.start))
            if not followed.is_grace:
                before = bool(followed.heard)
        self.onsets = sorted(at)
        self.seconds = [at[onset] for onset in self.onsets]

    def knows(self, onset: Fraction) -> bool:
        k = bisect_right(self.onsets, onset) - 1
        return k >= 0 and self.onsets[k] == onset

    def __call__(self, onset: Fraction) -> float | None:
        """Interpolated between the notes around; None beyond them."""
        k = bisect_right(self.onsets, onset) - 1
        if k < 0 or (self.onsets[k] != onset and k + 1 >= len(self.onsets)):
            return None
        if self.onsets[k] == onset:
            return self.seconds[k]
        share = float((onset - self.onsets[k]) / (self.onsets[k + 1] - self.onsets[k]))
        return self.seconds[k] + share * (self.seconds[k + 1] - self.seconds[k])


def bar_timings(following: Following, notes: Sequence[JudgedNote]) -> tuple[BarTiming, ...]:
    """Every bar with a length, the last apart from judgement: its last note is held at will."""
    clock = _Clock(following, notes)
    bars = [bar for bar in following.bars if bar.length > 0]
    broken = _broken_off(bars, following)
    spans = [
        _span(bar, None if apart else after, clock)
        for bar, after, apart in zip(bars, [*bars[1:], None], broken, strict=True)
    ]
    lengths = np.array([float(bar.length) for bar in bars])
    lasts = np.array([max(end - start, 1e-3) for start, end in spans])
    if not len(bars):
        return ()
    full = float(np.median(lengths))
    rates = np.log(lasts / lengths)  # log of seconds for a quarter note
    counted = lengths >= 0.5 * full  # an anacrusis is too short to tell of tempo
    counted[-1] = False
    held = _bars_held_at_will(following)
    counted &= np.array([bar.index not in held for bar in bars])
    counted &= ~np.array(broken)
    usual = _around(rates, counted)
    expected = np.exp(usual) * lengths
    late = lasts - expected
    share = late / expected
    usual_off = 1.4826 * float(np.median(np.abs(share[counted]))) if counted.any() else 0.0
    least = max(OFF_SHARE, OFF_TIMES * usual_off)
    offsets = _offsets(np.array([start for start, _ in spans]), expected)
    found = []
    for k, bar in enumerate(bars):
        verdict = BarVerdict.STEADY
        if counted[k] and abs(late[k]) >= OFF_SECONDS and abs(share[k]) >= least:
            verdict = BarVerdict.DRAGGED if late[k] > 0 else BarVerdict.RUSHED
            if lasts[k] > STOPPED * expected[k]:
                verdict = BarVerdict.STOPPED
        start, end = spans[k]
        found.append(
            BarTiming(
                index=following.bars.index(bar),
                number=bar.number,
                part=bar.part,
                part_time=bar.part_time,
                start=start,
                end=end,
                tempo=60 * float(lengths[k] / lasts[k]),
                expected=float(expected[k]),
                late=float(late[k]) if counted[k] else 0.0,
                offset=float(offsets[k]),
                verdict=verdict,
                tells=bool(counted[k]),
            )
        )
    return tuple(found)


def _span(bar: FollowedBar, after: FollowedBar | None, clock: _Clock) -> tuple[float, float]:
    start = clock(bar.onset)
    end = clock(after.onset) if after is not None else None
    return (bar.start if start is None else start), (bar.end if end is None else end)


def _broken_off(bars: Sequence[FollowedBar], following: Following) -> list[bool]:
    """Whether something else comes between a bar and the next: a false start, talk, a rest
    before the next round. How long that takes is no matter of tempo; a silence alone is a stop."""
    apart = (PassageKind.FALSE_START, PassageKind.OTHER)
    others = [passage for passage in following.passages if passage.kind in apart]
    found = [False] * len(bars)
    for k, (bar, after) in enumerate(pairwise(bars)):
        between = any(bar.start < p.start < after.start for p in others)
        found[k] = between or bar.round != after.round
    return found


def _bars_held_at_will(following: Following) -> frozenset[int]:
    """Bars with a fermata: how long they last is up to the player."""
    arrangement = following.arrangement
    return frozenset(
        bar.index
        for bar in arrangement.tune.voices[arrangement.voice].bars
        if any(name in ("fermata", "invertedfermata") for n in bar.notes for name in n.decorations)
    )


def _around(rates: Array, counted: npt.NDArray[np.bool_]) -> Array:
    """The rate to be expected at each bar from those around it."""
    places = np.arange(len(rates))
    usual = np.empty(len(rates))
    for k in places:
        near = counted & (np.abs(places - k) <= AROUND) & (places != k)
        if near.sum() < 2:
            near = counted & (places != k)
        if not near.any():
            usual[k] = rates[k]
            continue
        x, y = places[near].astype(float), rates[near]
        slope = 0.0
        if len(x) >= 4 and min((x < k).sum(), (x > k).sum()) >= 2:  # no trend beyond an end
            up = np.subtract.outer(y, y)[np.triu_indices(len(x), 1)]
            along = np.subtract.outer(x, x)[np.triu_indices(len(x), 1)]
            slope = float(np.median(up / along))
        usual[k] = float(np.median(y - slope * (x - k)))
    return usual


def _offsets(starts: Array, expected: Array) -> Array:
    """How far each bar's first beat lies behind an even pulse through the bars around it."""
    ideal = np.concatenate(([0.0], np.cumsum(expected)[:-1]))
    behind = starts - ideal
    out = np.empty(len(starts))
    for k in range(len(starts)):
        near = behind[max(0, k - AROUND) : k + AROUND + 1]
        out[k] = behind[k] - float(np.median(near))
    return out


def tempo_found(following: Following, bars: Sequence[BarTiming]) -> TempoFound | None:
    """Tempo of the whole, how steady, and how it moved from the first quarter to the last."""
    told = [bar for bar in bars if bar.tells] or list(bars)
    if not told:
        return None
    tempi = np.array([bar.tempo for bar in told])
    quarter = max(1, len(tempi) // 4)
    first, last = float(np.median(tempi[:quarter])), float(np.median(tempi[-quarter:]))
    tune = following.arrangement.tune
    beat = lilt_of(tune).felt_beat(tune.meter)
    median = float(np.median(tempi))
    return TempoFound(
        quarters_per_minute=median,
        beat=beat,
        beats_per_minute=median / float(beat),
        unsteadiness=float(np.mean([abs(bar.percent) for bar in told])),
        drift=100 * (last / first - 1),
    )


def lilt_found(following: Following, notes: Sequence[JudgedNote]) -> LiltFound | None:
    """How much longer the first of two equally written quavers is played than the second.

    Pairs that begin on a beat and fill it in simple metres; the first two of three in
    compound ones. All three onsets must have been heard. None where too few were.
    """
    onsets = {bar.index: bar for bar in following.bars}
    meter = following.arrangement.tune.meter
    beat = meter.beat_length if not meter.free else Fraction(1)
    unit = beat / 3 if meter.compound else Fraction(1, 2)
    main = [n for n in notes if not n.is_grace and n.verdict is not Verdict.MISSED]
    followed = [following.notes[n.index] for n in main]
    step = beat if meter.compound else 2 * unit
    ratios = []
    for (one, two), three in zip(pairwise(followed), followed[2:], strict=False):
        if not (one.length == two.length == unit and one.heard and two.heard and three.heard):
            continue
        if two.onset != one.onset + unit or three.onset != two.onset + unit:
            continue
        bar = onsets.get(one.bar)
        if bar is None or bar.number == 0 or (_in_bar(following, one.onset)) % step:
            continue
        first, second = two.start - one.start, three.start - two.start
        if first > 0.02 and second > 0.02:
            ratios.append(first / second)
    if len(ratios) < FEWEST_PAIRS:
        return None
    low, middle, high = (float(each) for each in np.percentile(ratios, [25, 50, 75]))
    return LiltFound(middle, (high - low) / 2, len(ratios), unit)


def _in_bar(following: Following, onset: Fraction) -> Fraction:
    starts = [bar.onset for bar in following.bars]
    k = bisect_right(starts, onset) - 1
    return onset - starts[max(0, k)]
