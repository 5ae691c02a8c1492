"""Two reeds sounded together: the pitch of each, and how fast they beat.

Where the upper reed is no multiple of the lower, each has partials of its own, by which it is
measured alone; their beats follow from the two pitches. Where all partials of the upper meet
partials of the lower (octave, twelfth, double octave), the lower reed is measured by those that
are free; of the others, which are turned back by its phase, what remains is a line of the upper
reed that turns at the rate of the beats, twice and three times as fast in its second and third
partial. In a unison every partial is two such lines, and both, with a drift that they share, are
fitted at once (least squares; the amplitudes drop out: Golub and Pereyra 1973, The differentiation
of pseudo-inverses and nonlinear least squares problems whose variables separate).

A reed alone that swells or is played with tremolo has the same change in all of its partials, and
on both sides of each: that is no second reed.

Public: `Pair`, `pair_in`, `meeting`.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from reedwright.workshop.measuring.combs import HIGHEST_PITCH
from reedwright.workshop.measuring.lines import Group, beside, both, without_swelling
from reedwright.workshop.measuring.model import Beats
from reedwright.workshop.measuring.partials import Array64, Stretch
from reedwright.workshop.measuring.pitch import LEAST, PhaseCourse, Pitch, phase_course, pitch_of

_MEETINGS = ((1, 1), (2, 1), (3, 2), (4, 3), (5, 4), (6, 5), (5, 3), (3, 1), (4, 1), (8, 5), (7, 4))
_MEETING_NEAR = 40.0  # cents between partials that are said to meet
_UNISON_NEAR = 90.0  # cents, of two reeds that are to be alike
_LIKE_ONE = 60.0  # cents about 1, 2, 3 and 4 to 1 within which two reeds may look like one
_APART, _APART_TURNS = 12.0, 2.5  # Hz, and turns in the held part, that free partials lie apart
_ASTRAY, _LEAST_SURE = 20.0, 5.0  # cents from where the partials were seen; of uncertainty
_WIDE = 250.0  # Hz: half of the widest band about a partial
_FASTEST = 16.0  # Hz of beats looked for between partials that meet
_GROUPS = 4  # pairs of partials that meet
_LEAST_TURNS = 0.75  # beats in the held part: fewer are not told from swelling
_LEAST_SECONDS = 0.25
_LEAST_LEVEL = 10 ** (-20 / 10)  # of the other reed's power in the same partials
_EXPLAINED = 0.6  # of what a single reed leaves over
_EXPLAINED_ALONE = 0.85  # the same, where only one partial of the upper reed is seen
_VAGUE = 0.08  # of a rate: an error above this is no line
_SWELLING_LEAST = 0.2  # of the usual level: below it noise would be swelled up
_EACH = 0.4  # the same, of the upper reed's first partial and of its second
_LOOSE = 0.01  # of the power that does not go with the phase common to all partials
_FREE_LOOSE = 0.35  # of that in all partials: what the free ones may have in an octave
_UNISON_PARTIALS = 6
_UNISON_RANGE, _UNISON_SHARE = 8.0, 0.022  # Hz, or of the pitch, about the one seen
_BETTER = 0.35  # of what one reed leaves over: two must leave less
_FAINT = 10 ** (-30 / 10)  # of the strongest partial's power: fainter ones are left out


class Pair(NamedTuple):
    """The lower and the upper reed, and their beats (None where no partials nearly meet)."""

    lower: Pitch
    upper: Pitch
    beats: Beats | None


def meeting(lower: float, upper: float) -> tuple[int, int] | None:
    """Which partials of two reeds (Hz) nearly meet: of the lower, of the upper; the lowest that
    do. None where there are none among those that players hear beat."""
    for m, n in _MEETINGS:
        near = _UNISON_NEAR if m == n else _MEETING_NEAR
        if abs(1200 * np.log2(n * upper / (m * lower))) < near:
            return m, n
    return None


def pair_in(
    stretch: Stretch, pitches: tuple[float, ...], first: float, last: float, alone: PhaseCourse
) -> Pair | None:
    """The two reeds held from `first` to `last` (seconds), None where one sounds.

    `pitches` (Hz) are those whose partials were seen, lower first; `alone` is the phase course
    of the first as if it were alone.
    """
    if len(pitches) == 2:
        ratio = pitches[1] / pitches[0]
        whole = max(1, round(ratio))
        if whole > 4 or abs(1200 * np.log2(ratio / whole)) > _LIKE_ONE:
            return _apart(stretch, pitches[0], pitches[1], first, last)
    if last - first < _LEAST_SECONDS:
        return None
    loose = _looseness(alone)
    if len(pitches) == 1 and loose < _LOOSE:
        return None
    found = [_multiple(stretch, pitches[0], m, first, last, loose) for m in (2, 3, 4)]
    best = max((each for each in found if each is not None), key=lambda e: e[0], default=None)
    return _unison(stretch, pitches[0], first, last, alone) if best is None else best[1]


def _looseness(course: PhaseCourse) -> float:
    """The mean share of the partials' power that does not go with their common phase."""
    left = without_swelling(course.values, course.times)
    shares = np.sum(np.abs(left) ** 2, axis=1) / np.sum(np.abs(course.values) ** 2, axis=1)
    power = np.mean(np.abs(course.values) ** 2, axis=1)
    used = power > _FAINT * power.max()
    return float(np.mean(shares[used]))


def _swelling(course: PhaseCourse) -> Array64:
    """How loud a reed is from moment to moment, against its usual level."""
    sizes = np.abs(course.values)
    usual = np.sqrt(np.mean(sizes**2, axis=1))
    used = usual**2 > _FAINT * np.max(usual) ** 2
    swelling: Array64 = np.mean(sizes[used] / usual[used, None], axis=0)
    return np.maximum(swelling, _SWELLING_LEAST)


def _apart(stretch: Stretch, lower: float, upper: float, first: float, last: float) -> Pair | None:
    """Each reed by the partials that the other leaves free."""
    pitches = []
    for mine, other in ((lower, upper), (upper, lower)):
        partials = _free(mine, other, stretch.top, last - first)
        if not partials:
            return None
        pitch = pitch_of(phase_course(stretch, mine, first, last, partials))
        off = abs(1200 * np.log2(pitch.hz / mine)) if pitch.hz > 0 else _ASTRAY
        if off >= _ASTRAY or pitch.uncertainty > _LEAST_SURE:
            return None  # what was taken for partials of a second reed belongs to the first
        pitches.append(pitch)
    low, high = pitches
    met = meeting(low.hz, high.hz)
    if met is None:
        return Pair(low, high, None)
    m, n = met
    rate = float(abs(m * low.hz - n * high.hz))
    errors = (m * _in_hz(low), n * _in_hz(high))
    return Pair(low, high, Beats(rate, float(np.hypot(*errors)), met))


def _free(mine: float, other: float, top: float, seconds: float) -> list[tuple[int, float]]:
    """Numbers of partials that lie alone, and half of the band about each."""
    least = max(_APART, _APART_TURNS / seconds)
    free = []
    for k in range(1, 17):
        at = k * mine
        near = max(1, round(at / other)) * other
        half = min(0.45 * mine, _WIDE, 0.95 * abs(at - near))
        if at + half > top:
            break
        if abs(at - near) >= least:
            free.append((k, half))
    return free


def _in_hz(pitch: Pitch) -> float:
    return pitch.uncertainty * pitch.hz * float(np.log(2)) / 1200


def _cents(error: float, hz: float) -> float:
    return float(max(LEAST, 1200 / np.log(2) * error / hz))


def _multiple(
    stretch: Stretch, hz: float, m: int, first: float, last: float, loose: float
) -> tuple[float, Pair] | None:
    """An upper reed near `m` times the lower, and how much of what is left over it explains."""
    half = min(0.45 * hz, _WIDE)
    count = min(16, int((stretch.top - half) / hz))
    free = [(k, half) for k in range(1, count + 1) if k % m]
    groups = [i for i in range(1, _GROUPS + 1) if m * i * hz + half < stretch.top]
    if not free or not groups:
        return None
    course = phase_course(stretch, hz, first, last, free)
    if _looseness(course) > _FREE_LOOSE * loose:
        return None  # these beat, too: it is a unison
    lower = pitch_of(course)
    reach = min(0.45 * hz, 1.5 * _FASTEST * max(groups))
    strands = [
        stretch.strand(m * i * hz, min(reach, 1.5 * _FASTEST * i), reach).between(
            course.times[0], course.times[-1]
        )
        for i in groups
    ]
    times = strands[0].times
    numbers = np.array(groups, dtype=np.float64)
    turned = np.interp(times, course.times, course.turns - hz * course.times)
    back = np.exp(-2j * np.pi * m * numbers[:, None] * turned)
    back /= np.interp(times, course.times, _swelling(course))
    return _second_line(
        Group(times, numbers, np.stack([s.values for s in strands]) * back), lower, m
    )


def _second_line(group: Group, lower: Pitch, m: int) -> tuple[float, Pair] | None:
    power = np.sum(np.abs(group.values) ** 2, axis=1)
    used = power > _FAINT * power.max()
    if not used[0]:
        return None
    group = Group(group.times, group.numbers[used], group.values[used])
    line = beside(group, _LEAST_TURNS / group.seconds, min(_FASTEST, 0.4 * lower.hz))
    if line is None:
        return None
    gain, left = float(line.gains.sum()), float(line.left.sum())
    steady = float(power.sum()) - left
    explained = gain / left
    enough = _EXPLAINED if used[1:2].any() else _EXPLAINED_ALONE
    if explained < enough or gain < _LEAST_LEVEL * steady:
        return None
    if line.error > _VAGUE * abs(line.rate) or m * lower.hz > HIGHEST_PITCH:
        return None
    few = line.gains[:2] < _EACH * line.left[:2]
    if few.any():
        return None  # each of the upper reed's partials beats, its second twice as fast
    # The rate counts from the lower reed, whose error is in it, too; in the upper's pitch both
    # take each other away.
    hz = m * lower.hz + line.rate
    upper = Pitch(hz, _cents(line.error, hz), lower.wander)
    error = float(np.hypot(m * _in_hz(lower), line.error))
    return explained, Pair(lower, upper, Beats(abs(line.rate), error, (m, 1)))


def _unison(
    stretch: Stretch, hz: float, first: float, last: float, alone: PhaseCourse
) -> Pair | None:
    """Two reeds of nearly the same pitch, where they explain the sound much better than one."""
    reach = max(_UNISON_RANGE, _UNISON_SHARE * hz)
    wide = min(0.45 * hz, _WIDE)
    count = max(1, min(_UNISON_PARTIALS, int((stretch.top - wide) / hz)))
    half = min(wide, 1.6 * reach * count)
    strands = [
        stretch.strand(k * hz, min(wide, max(15.0, 1.6 * reach * k)), half).between(first, last)
        for k in range(1, count + 1)
    ]
    values = np.stack([strand.values for strand in strands])
    power = np.mean(np.abs(values) ** 2, axis=1)
    used = power > _FAINT * power.max()
    # Each partial counts alike: the first is often the least.
    values = values[used] / np.sqrt(power[used])[:, None]
    times, numbers = strands[0].times, np.arange(1.0, count + 1)[used]
    # Both move together, as far as one reed alone would have to; or else that tells of beats only.
    found = both(Group(times, numbers, values), reach)
    moving = np.zeros(len(times))
    turned, moved = _slow_turning(alone, times)
    back = values * np.exp(-2j * np.pi * numbers[:, None] * turned)
    again = both(Group(times, numbers, back), reach)
    if again is not None and (found is None or again.left < found.left):
        found, moving = again, moved
    loose = _looseness(alone)
    if found is None or found.weaker < _LEAST_LEVEL or found.left > _BETTER * loose:
        return None
    rate = abs(found.rates[1] - found.rates[0])
    if rate * (times[-1] - times[0]) * numbers.max() < _LEAST_TURNS:
        return None
    drift = found.drift * (times - times.mean())
    wander = 1200 / float(np.log(2)) * float(np.std(moving + drift)) / hz
    low, high = (
        Pitch(hz + r, _cents(e, hz), wander)
        for r, e in sorted(zip(found.rates, found.errors, strict=True))
    )
    return Pair(low, high, Beats(rate, found.apart_error, (1, 1)))


def _slow_turning(alone: PhaseCourse, times: Array64) -> tuple[Array64, Array64]:
    """Swings by which the pitch of both reeds together runs ahead of an even course, and how fast
    (Hz): the slow part of what one reed alone would have to do, beats left out."""
    middle, half = alone.times.mean(), max(1e-3, float(np.ptp(alone.times)) / 2)
    place, now = (alone.times - middle) / half, (times - middle) / half
    even = np.polynomial.legendre.Legendre.fit(place, alone.turns, 3, domain=[-1, 1])
    # Legendre's first two are what is constant and what is even.
    coefficients = even.coef.copy()
    coefficients[:2] = 0
    slow = np.polynomial.legendre.Legendre(coefficients, domain=[-1, 1])
    turned = np.asarray(slow(now))
    slope, start = np.polyfit(now, turned, 1)
    return turned - slope * now - start, (np.asarray(slow.deriv()(now)) - slope) / half
