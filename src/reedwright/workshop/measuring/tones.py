"""A stretch in which something is held, turned into the tones that it is made of.

Public: `tones_in`, `Candidate`.
"""

from __future__ import annotations

from dataclasses import replace
from math import exp, hypot, sqrt
from typing import NamedTuple

import numpy as np

from reedwright.workshop.measuring.combs import Found, reeds_in
from reedwright.workshop.measuring.envelope import (
    Bounds,
    Envelope,
    bounds_of,
    envelope_of,
    parts_of,
)
from reedwright.workshop.measuring.model import Tone
from reedwright.workshop.measuring.pairs import pair_in
from reedwright.workshop.measuring.partials import Array64, Stretch
from reedwright.workshop.measuring.pitch import PhaseCourse, phase_course, pitch_of

SHORTEST = 0.090  # seconds: less is a click, or a reed touched in passing
_SETTLING, _SETTLING_SHARE = 0.080, 0.35  # seconds, and part of a tone, until a reed is on pitch
_LETTING_GO = 0.020  # seconds before the end that are not measured
_LEAST_HELD = 0.050  # seconds
_LOCAL = 4  # steps of a phase course over which the pitch of a moment is taken
_FEW = 30  # steps of a short tone
_OFF_PITCH = 4.0  # cents that a moment may lie off the held pitch, or so many usual distances
_USUAL = 5.0
_GLIDE = 100.0  # cents that a pitch may move in all: more is talk, or a bend on its way
_MEMORY = 0.3  # seconds that a wandering pitch stays on one side (judgement, no source)
_LEAST_SURE = 12.0  # cents of uncertainty: what is less sure is no reed
_BRIEF = 0.5  # seconds: what is so short must be surer and clearer, for talk has such stretches
_BRIEF_SURE, _BRIEF_NOISE = 2.5, 12.0  # cents; dB above what is no partial
_MAINS = (50.0, 60.0)  # Hz
_MAINS_MULTIPLES = 5
_MAINS_NEAR, _MAINS_LEVEL = 8.0, -42.0  # cents; dBFS: louder is somebody's playing
_APART, _LEAST_REST = 0.03, 0.2  # seconds after a tone's end, and left then, for another
_AS_LOUD = 10.0  # dB under the first that the other may be: the room is softer


class Candidate(NamedTuple):
    """A stretch in which something is held, from `first` to `last` (seconds in `sound`).

    `sound` of shape (frames,) reaches a little further on both sides, and begins at `begins`
    (seconds of the recording). `joined_before`, `joined_after`: another tone joins without a gap.
    """

    sound: Array64
    rate: float
    begins: float
    first: float
    last: float
    joined_before: bool
    joined_after: bool


def tones_in(candidate: Candidate) -> list[Tone]:
    """The tones of a stretch, in order: none, one, or one for each time it begins anew."""
    first, last = candidate.first, candidate.last
    if last - first < _LEAST_HELD:
        return []
    settle = min(_SETTLING, _SETTLING_SHARE * (last - first))
    found = reeds_in(_cut(candidate, first + settle, last - _LETTING_GO), candidate.rate)
    if not found.hz:
        return []
    stretch = Stretch(candidate.sound, candidate.rate)
    envelope = envelope_of(stretch, found.hz, first + settle, last - _LETTING_GO)
    early = first - (0.03 if candidate.joined_before else 0.1)
    late = last + (0.03 if candidate.joined_after else 0.1)
    parts = parts_of(envelope, max(0.0, early), late)
    tones = []
    for k, part in enumerate(parts):
        low = parts[k - 1][1] if k else early
        high = parts[k + 1][0] if k + 1 < len(parts) else late
        tone = _tone(candidate, stretch, found, envelope, part, (low, high))
        if tone is None:
            continue
        tones.append(tone)
        # In a room a reed that sounds again may part nothing but end the first.
        rest = tone.end - candidate.begins + _APART
        if part[1] - rest > _LEAST_REST:
            again = _tone(candidate, stretch, found, envelope, (rest, part[1]), (rest, high))
            if again is not None and again.level > tone.level - _AS_LOUD:
                tones.append(again)
    return tones


def _cut(candidate: Candidate, first: float, last: float) -> Array64:
    low, high = (round(each * candidate.rate) for each in (first, last))
    return candidate.sound[max(0, low) : max(low + 1, high)]


def _tone(
    candidate: Candidate,
    stretch: Stretch,
    found: Found,
    envelope: Envelope,
    part: tuple[float, float],
    within: tuple[float, float],
) -> Tone | None:
    joins = candidate.joined_before and part[0] <= candidate.first
    bounds = bounds_of(envelope, *part, *within, joins)
    if bounds.end - bounds.start < SHORTEST:
        return None
    low, high = _held(bounds)
    if high - low < _LEAST_HELD:
        return None
    course = phase_course(stretch, found.hz[0], low, high)
    pair = pair_in(stretch, found.hz, low, high, course)
    if pair is None:
        course = _settled(course)
        pitch = pitch_of(course)
        low = float(course.times[0])
    else:
        pitch = pair.lower
    held = _cut(candidate, low, high)
    if not len(held):
        return None
    tone = Tone(
        start=max(0.0, candidate.begins + bounds.start),
        end=candidate.begins + bounds.end,
        hz=pitch.hz,
        uncertainty=pitch.uncertainty,
        wander=pitch.wander,
        attack=bounds.rise,
        level=float(10 * np.log10(np.mean(held**2) + 1e-12)),
        noise=float(-10 * np.log10(found.noise / max(1e-9, 1 - found.noise))),
    )
    if _is_hum(tone) or not _is_sure(tone):
        return None
    sure = _with_wander(pitch.uncertainty, pitch.wander, high - low)
    if pair is None:
        return replace(tone, uncertainty=sure) if _is_held(course) else None
    upper = pair.upper
    return replace(tone, upper_hz=upper.hz, upper_uncertainty=upper.uncertainty, beats=pair.beats)


def _with_wander(uncertainty: float, wander: float, seconds: float) -> float:
    """Standard error in cents of the reed's pitch, with what slow wandering does to one tone.

    For a pitch that wanders as a first-order autoregression with a memory of tau, `share` of its
    variance goes to the mean of a tone and the rest is seen in it as `wander`. A tone of a second
    or so cannot show its tau, so a long one is assumed.
    """
    spans = seconds / _MEMORY
    share = 2 / spans * (1 - (1 - exp(-spans)) / spans)
    return hypot(uncertainty, wander * sqrt(share / (1 - share)))


def _held(bounds: Bounds) -> tuple[float, float]:
    """From when to when the tone may be measured."""
    settled = bounds.start + min(_SETTLING, _SETTLING_SHARE * (bounds.end - bounds.start))
    return max(settled, bounds.held_from), bounds.held_to - _LETTING_GO


def _settled(course: PhaseCourse) -> PhaseCourse:
    """Without the beginning and the end in which the reed is not yet, or no more, on its pitch."""
    count = len(course.times)
    if count < 2 * _LOCAL:
        return course
    local = _momentary(course)
    # A short tone is on its pitch in its second half at best.
    begin = len(local) // 2 if count < _FEW else len(local) // 4
    middle = local[begin : -max(1, len(local) // 8)]
    usual = float(np.median(middle))
    off = 1200 / np.log(2) * np.abs(local - usual) / usual
    spread = float(np.median(1200 / np.log(2) * np.abs(middle - usual) / usual))
    wrong = np.flatnonzero(off > max(_OFF_PITCH, _USUAL * spread))
    early = wrong[wrong < len(local) // 2]
    late = wrong[wrong >= len(local) // 2]
    first = int(early[-1]) + 1 if len(early) else 0
    last = int(late[0]) + _LOCAL if len(late) else count
    if last - first < _LOCAL:
        return course
    return course._replace(
        times=course.times[first:last],
        turns=course.turns[first:last],
        values=course.values[:, first:last],
    )


def _momentary(course: PhaseCourse) -> Array64:
    """Pitch in Hz from each moment to the one `_LOCAL` steps on."""
    turned: Array64 = course.turns[_LOCAL:] - course.turns[:-_LOCAL]
    return np.asarray(turned / (course.times[_LOCAL:] - course.times[:-_LOCAL]))


def _is_held(course: PhaseCourse) -> bool:
    """Whether a pitch stays as a reed's does: talk glides."""
    if len(course.times) < _LOCAL:
        return False
    local = _momentary(course)
    if len(local) < 3:
        return True
    low, high = np.percentile(local, (5, 95))
    return bool(low > 0 and 1200 * np.log2(high / low) < _GLIDE)


def _is_sure(tone: Tone) -> bool:
    """Whether it is as clear as a reed is: hiss and talk are not."""
    if tone.seconds < _BRIEF:
        return tone.uncertainty < _BRIEF_SURE and tone.noise > _BRIEF_NOISE
    return tone.uncertainty < _LEAST_SURE


def _is_hum(tone: Tone) -> bool:
    """Whether it is the mains' hum in the recording: soft, and at its frequency or a multiple."""
    if tone.level > _MAINS_LEVEL:
        return False
    multiples = (k * each for each in _MAINS for k in range(1, _MAINS_MULTIPLES + 1))
    return any(abs(1200 * np.log2(tone.hz / each)) < _MAINS_NEAR for each in multiples)
