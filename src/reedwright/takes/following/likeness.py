"""Where in a take, in which key and how fast the tune seems to be played, from runs of intervals.

Runs of four intervals (of notes that differ in pitch, cuts left out) of the take that also stand
in the tune are counted. Each votes for a transposition and for a tempo at its time. It is the
method of n-gram indexes for melodies (Downie, "Evaluating a simple approach to music information
retrieval", 1999: intervals in n-grams), here only to find where to look.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.following.score import Score

Array = npt.NDArray[np.float64]
Ints = npt.NDArray[np.int64]

INTERVALS = 4
CUT_SECONDS = 0.07  # shorter notes are passed over
FARTHEST = 24  # semitones that a take may lie from what is written
_WIDEST = 24  # semitones of an interval
_SLOWEST, _FASTEST = 3.0, 0.08  # seconds a quarter note
_NEAR = 12.0  # seconds to each side from which a local tempo is taken


class Votes(NamedTuple):
    """One for each run found: semitones above what is written, when, seconds a quarter note."""

    semitones: Ints
    time: Array
    pace: Array


def votes(score: Score, midi: Array, start: Array, seconds: Array) -> Votes:
    """All runs of the take (pitches, onsets, lengths of its notes) that stand in the tune."""
    heard_midi, heard_at = _changing(
        np.rint(midi[seconds >= CUT_SECONDS]), start[seconds >= CUT_SECONDS]
    )
    written = [
        (played.note.pitch.midi, float(played.onset))
        for played in score.performance.notes
        if not played.held
    ]
    pairs = np.array(written, dtype=np.float64).reshape(-1, 2)
    score_midi, score_at = _changing(pairs[:, 0], pairs[:, 1])
    heard_codes, score_codes = _codes(heard_midi), _codes(score_midi)
    if not len(heard_codes) or not len(score_codes):
        return Votes(np.zeros(0, np.int64), np.zeros(0), np.zeros(0))
    order = np.argsort(score_codes, kind="stable")
    first = np.searchsorted(score_codes[order], heard_codes, "left")
    count = np.searchsorted(score_codes[order], heard_codes, "right") - first
    heard = np.repeat(np.arange(len(heard_codes)), count)
    within = np.arange(len(heard)) - np.repeat(np.cumsum(count) - count, count)
    tune = order[np.repeat(first, count) + within]
    pace = (heard_at[heard + INTERVALS] - heard_at[heard]) / (
        score_at[tune + INTERVALS] - score_at[tune]
    )
    semitones = (heard_midi[heard] - score_midi[tune]).astype(np.int64)
    good = (pace > _FASTEST) & (pace < _SLOWEST) & (np.abs(semitones) <= FARTHEST)
    return Votes(semitones[good], heard_at[heard][good], pace[good])


def _changing(midi: Array, at: Array) -> tuple[Array, Array]:
    """Without notes that repeat the pitch before."""
    if not len(midi):
        return midi, at
    new = np.concatenate([[True], midi[1:] != midi[:-1]])
    return midi[new], at[new]


def _codes(midi: Array) -> Ints:
    steps = np.clip(np.diff(midi), -_WIDEST, _WIDEST).astype(np.int64) + _WIDEST
    if len(steps) < INTERVALS:
        return np.zeros(0, np.int64)
    count = len(steps) - INTERVALS + 1
    codes = np.zeros(count, np.int64)
    for k in range(INTERVALS):
        codes = codes * (2 * _WIDEST + 1) + steps[k : k + count]
    return codes


def likely_semitones(found: Votes, score: Score, midi: Array, seconds: Array) -> list[int]:
    """Transpositions to try, the likeliest first: by votes, then by how often pitches come."""
    shifts = np.arange(-FARTHEST, FARTHEST + 1)
    by_votes = np.bincount(found.semitones + FARTHEST, minlength=len(shifts))
    chosen = [int(shifts[k]) for k in np.argsort(-by_votes, kind="stable")[:3] if by_votes[k] >= 2]
    if len(chosen) and by_votes.max() >= 12 and by_votes.max() >= 4 * np.sort(by_votes)[-2]:
        return chosen[:1]
    heard = np.bincount(
        np.clip(np.rint(midi), 0, 127).astype(np.int64), weights=seconds, minlength=128
    )
    written = np.zeros(128)
    for played in score.performance.notes:
        written[played.note.pitch.midi] += float(played.note.length)
    likeness = [float(heard @ _moved(written, int(shift))) for shift in shifts]
    by_pitch = [int(shifts[k]) for k in np.argsort(likeness)[::-1][:2]]
    return list(dict.fromkeys([*chosen, *by_pitch]))


def _moved(histogram: Array, by: int) -> Array:
    moved = np.roll(histogram, by)
    if by > 0:
        moved[:by] = 0
    elif by < 0:
        moved[by:] = 0
    return np.sqrt(moved)


def paces(found: Votes, semitones: int, at: Array, usual: float) -> Array:
    """Seconds a quarter note to be expected at these times; `usual` where nothing tells."""
    mine = found.semitones == semitones
    time, pace = found.time[mine], np.log(found.pace[mine])
    if len(pace) < 3:
        return np.full(len(at), usual)
    whole = float(np.median(pace))
    near = np.abs(pace - whole) < 0.35  # a run that stands in another rhythm elsewhere
    time, pace = time[near], pace[near]
    knots = np.arange(float(at[0]), float(at[-1]) + _NEAR, _NEAR / 2)
    first = np.searchsorted(time, knots - _NEAR)
    last = np.searchsorted(time, knots + _NEAR)
    local = [
        float(np.median(pace[a:b])) if b - a >= 3 else whole
        for a, b in zip(first, last, strict=True)
    ]
    return np.exp(np.interp(at, knots, local))


def fullest(found: Votes, semitones: int, at: Array, count: int) -> slice:
    """The `count` notes in a row (onsets `at`) within which most runs stand."""
    if len(at) <= count:
        return slice(0, len(at))
    time = found.time[found.semitones == semitones]
    starts = np.arange(0, len(at) - count + 1, max(1, count // 8))
    inside = np.searchsorted(time, at[starts + count - 1]) - np.searchsorted(time, at[starts])
    first = int(starts[int(np.argmax(inside))])
    return slice(first, first + count)
