"""Bends and overbends: did they reach, did they stay.

Told from the pitch track: where the second half of the note settled, how far it wandered, and
how far above that it began. A reed's pitch is not itself at once: short plain notes of this take
tell where a short note about as high comes out, and short bends are measured from there.

Public: `judged_bends`.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reedwright.harp.model import Technique
from reedwright.sound.hearing.model import PitchTrack
from reedwright.takes.report.model import BendVerdict, JudgedBend, JudgedNote, Verdict
from reedwright.takes.report.notes import Pitching

# Cents off the target from which a bend is told of: players and listeners allow a bend more
# than a reed, and half a planted fault of 40 must be well clear of it (judgement, no source).
REACHED = 22.0
SETTLED_FROM = 0.45  # share of the note after which a bend should have settled
RELEASE = 0.02  # seconds before the end that may already be going elsewhere
BEGINNING = 0.03, 0.09  # seconds into the note that tell where it began
FAR = 250.0  # cents; a frame further off is not this note
FEWEST_FRAMES = 4
# What short plain notes a short bend is compared with: seconds, as many times longer or shorter,
# so many semitones away, and at least so many of them.
SHORT, ALIKE, NEAR, ENOUGH = 0.2, 1.5, 6, 3
SHORTEST = 0.09  # seconds; in a shorter note nobody hears where a bend would have settled


def judged_bends(
    notes: Sequence[JudgedNote], track: PitchTrack, pitching: Pitching
) -> tuple[JudgedBend, ...]:
    """Every bend, valved bend and overbend that was heard, wrong ones that came too high too."""
    found = []
    plain = [n for n in notes if _is_short_and_plain(n)]
    for k, note in enumerate(notes):
        way = note.sounding
        if way is None or way.technique is Technique.NATURAL or note.is_grace:
            continue
        if note.seconds < SHORTEST:
            continue
        if note.verdict is Verdict.PLAYED and note.cents is not None:
            found.append(_judged(k, note, track, pitching, _usual(note, plain)))
    return tuple(found)


def _is_short_and_plain(note: JudgedNote) -> bool:
    way = note.sounding
    return (
        way is not None
        and way.technique is Technique.NATURAL
        and not note.is_grace
        and note.verdict is Verdict.PLAYED
        and note.cents is not None
        and note.seconds < SHORT * ALIKE
    )


def _usual(note: JudgedNote, plain: Sequence[JudgedNote]) -> float:
    """How far off a plain note of this length and height comes out in this take, in cents."""
    if note.seconds >= SHORT:
        return 0.0
    like = [
        n.cents
        for n in plain
        if n.cents is not None
        and abs(n.midi - note.midi) <= NEAR
        and note.seconds / ALIKE <= n.seconds <= note.seconds * ALIKE
    ]
    return float(np.median(like)) if len(like) >= ENOUGH else 0.0


def _judged(
    k: int, note: JudgedNote, track: PitchTrack, pitching: Pitching, usual: float
) -> JudgedBend:
    assert note.cents is not None
    half = _cents(
        track, note, note.start + SETTLED_FROM * note.seconds, note.end - RELEASE, pitching
    )
    if len(half) >= FEWEST_FRAMES:
        low, settled, high = (float(each) for each in np.percentile(half, [25, 50, 75]))
        wander = (high - low) / 2
    else:
        settled, wander = note.cents, note.spread
    settled -= usual
    first = _cents(track, note, note.start + BEGINNING[0], note.start + BEGINNING[1], pitching)
    scoop = float(np.median(first)) - usual - settled if len(first) >= FEWEST_FRAMES else 0.0
    # Track and note must agree: a stretch that the track lost is no fault of the player's.
    whole = note.cents - usual
    off = settled if abs(settled) < abs(whole) else whole
    verdict = BendVerdict.REACHED
    if off > REACHED:
        verdict = BendVerdict.SHARP
    elif off < -REACHED:
        verdict = BendVerdict.FLAT
    return JudgedBend(k, verdict, settled, wander, max(0.0, scoop))


def _cents(
    track: PitchTrack, note: JudgedNote, start: float, end: float, pitching: Pitching
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    hz = track.hz[track.frames(start, end)].astype(np.float64)
    hz = hz[hz > 0]
    cents = np.array([pitching.cents(float(each), note.midi) for each in hz])
    return cents[np.abs(cents) < FAR] if len(cents) else cents
