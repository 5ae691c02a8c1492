"""Bends and overbends: did they reach, did they stay.

Told from the pitch track: where the second half of the note settled, how far it wandered, and
how far above that it began.

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
SHORTEST = 0.09  # seconds; in a shorter note nobody hears where a bend would have settled


def judged_bends(
    notes: Sequence[JudgedNote], track: PitchTrack, pitching: Pitching
) -> tuple[JudgedBend, ...]:
    """Every bend, valved bend and overbend that was heard, wrong ones that came too high too."""
    found = []
    for k, note in enumerate(notes):
        way = note.sounding
        if way is None or way.technique is Technique.NATURAL or note.is_grace:
            continue
        if note.seconds < SHORTEST:
            continue
        if note.verdict is Verdict.PLAYED and note.cents is not None:
            found.append(_judged(k, note, track, pitching))
    return tuple(found)


def _judged(k: int, note: JudgedNote, track: PitchTrack, pitching: Pitching) -> JudgedBend:
    assert note.cents is not None
    half = _cents(
        track, note, note.start + SETTLED_FROM * note.seconds, note.end - RELEASE, pitching
    )
    if len(half) >= FEWEST_FRAMES:
        low, settled, high = (float(each) for each in np.percentile(half, [25, 50, 75]))
        wander = (high - low) / 2
    else:
        settled, wander = note.cents, note.spread
    first = _cents(track, note, note.start + BEGINNING[0], note.start + BEGINNING[1], pitching)
    scoop = float(np.median(first)) - settled if len(first) >= FEWEST_FRAMES else 0.0
    # Track and note must agree: a stretch that the track lost is no fault of the player's.
    off = settled if abs(settled) < abs(note.cents) else note.cents
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
