"""The course of pitch cut into notes.

Public: `cut_notes`, `Cut`.
"""

from __future__ import annotations

from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.sound.hearing.gathering import Gathered
from reedwright.sound.hearing.model import Array32, HeardNote
from reedwright.sound.hearing.onsets import ending, onset_near, renewals, rise_of
from reedwright.sound.hearing.salience import HOP
from reedwright.sound.hearing.strands import FINE, strand_of

Array64 = npt.NDArray[np.float64]

_SAME = 0.4  # semitones from frame to frame that are still one note
_SHORTEST = 0.020  # seconds
_HELD = 8  # frames that make a pitch held
_STILL = 0.15  # semitones that a held pitch moves in as many frames, at most
_STEP = 0.6  # semitones between two held pitches that are two notes
_WHISPER, _SHORT_WHISPER = 7.0, 0.120  # dB and seconds: an older note's tail before a new one
_ECHO, _ECHO_WITHIN = 20.0, 1.0  # dB under what was heard so many seconds before: the room
_FAINT = 40.0  # dB under the loud notes of the take: nobody's playing
_MARGIN = 0.060  # seconds looked at before and after
_SPEAKING, _SPEAKING_PART = 0.070, 0.4  # seconds, and part of a note, until a reed is on pitch
_SETTLED = 0.020  # seconds after an onset and before an end that the pitch is not taken from
_FULL_RISE = 12.0  # dB, where novelty is 1
_UNSTEADY = 40.0  # cents of spread that halve the surety: twice a wide vibrato; talk has more
CLEAR = 0.7  # the score of a reed that sounds alone


class Cut(NamedTuple):
    """Notes, the pitch of each frame made to fit them (Hz, 0 for none), and novelty."""

    notes: tuple[HeardNote, ...]
    hz: Array32
    novelty: Array32


class _Run(NamedTuple):
    """Frames `first` to before `end` in which the pitch goes on."""

    first: int
    end: int


class _Begun(NamedTuple):
    """A note's onset and its end (seconds), attack and level (dBFS of its partials), in a run."""

    start: float
    end: float
    attack: float
    level: float
    run: _Run


def cut_notes(sound: Gathered, midi: Array64, score: Array32, level: Array32) -> Cut:
    """Notes from the pitch of each frame (nan for none)."""
    novelty = np.zeros(len(midi), dtype=np.float32)
    begun: list[_Begun] = []
    for run in _runs(midi):
        begun += _begun(sound, run, midi, novelty)
    begun = _in_turn(_played(sorted(begun)))
    notes = tuple(_note(each, midi, score, level) for each in begun)
    return Cut(notes, _fitted(midi, begun), novelty)


def _runs(midi: Array64) -> list[_Run]:
    if not len(midi):
        return []
    voiced = np.isfinite(midi)
    with np.errstate(invalid="ignore"):
        moved = np.abs(np.diff(midi)) >= _SAME
    edge = np.concatenate([[True], (voiced[1:] != voiced[:-1]) | moved, [True]])
    runs = [_Run(int(a), int(b)) for a, b in pairwise(np.flatnonzero(edge))]
    runs = [run for run in runs if voiced[run.first] and (run.end - run.first) * HOP >= _SHORTEST]
    return [part for run in runs for part in _steps(run, midi)]


def _steps(run: _Run, midi: Array64) -> list[_Run]:
    """A run parted where its pitch glides from one held pitch to another, as bends do."""
    part = midi[run.first : run.end]
    if len(part) < 3 * _HELD or np.ptp(part) < _STEP:
        return [run]
    still = np.zeros(len(part), dtype=bool)
    reach = _HELD // 2
    still[reach:-reach] = np.abs(part[2 * reach :] - part[: -2 * reach]) < _STILL
    marks = np.flatnonzero(np.diff(np.concatenate([[0], still.astype(np.int8), [0]])))
    held = [(a, b, float(np.median(part[a:b]))) for a, b in marks.reshape(-1, 2) if b - a >= _HELD]
    edges = [0]
    for (_, left, before), (right, _, after) in pairwise(held):
        if abs(after - before) >= _STEP:
            past = (part[left:right] - (before + after) / 2) * np.sign(after - before) > 0
            edges.append(left + (int(past.argmax()) if past.any() else len(past)))
    edges.append(len(part))
    return [_Run(run.first + a, run.first + b) for a, b in pairwise(edges)]


def _begun(sound: Gathered, run: _Run, midi: Array64, novelty: Array32) -> list[_Begun]:
    hz = float(440 * 2 ** ((np.median(midi[run.first : run.end]) - 69) / 12))
    noticed, left = run.first * HOP, run.end * HOP
    strand = strand_of(sound, hz, noticed - _MARGIN, left + _MARGIN)
    _note_novelty(novelty, strand.start, rise_of(strand), left)
    starts = [onset_near(strand, noticed)]
    starts += [
        each
        for each in renewals(strand, noticed + _SHORTEST, left - _MARGIN / 2)
        if each[0] > starts[0][0] + _SHORTEST
    ]
    ends = [*(time for time, _ in starts[1:]), left]
    found: list[_Begun] = []
    for (start, attack), end in zip(starts, ends, strict=True):
        stop = ending(strand, start, end)
        level = strand.level(start + _SETTLED, stop)
        found.append(_Begun(max(0.0, start), stop, attack, level, run))
    short = found[0].end - found[0].start < _SHORT_WHISPER
    if short and len(found) > 1 and found[0].level < found[1].level - _WHISPER:
        found.pop(0)
    return found


def _note_novelty(novelty: Array32, start: float, rise: Array64, until: float) -> None:
    """Put the rises of a strand into novelty, frame by frame, up to where its run ends."""
    steps = round(HOP / FINE)
    first = round(start / HOP)
    found = rise[: len(rise) // steps * steps].reshape(-1, steps).max(axis=1) / _FULL_RISE
    low, high = max(0, first), min(len(novelty), first + len(found), round(until / HOP))
    if high > low:
        part = np.clip(found[low - first : high - first], 0, 1).astype(np.float32)
        novelty[low:high] = np.maximum(novelty[low:high], part)


def _played(begun: list[_Begun]) -> list[_Begun]:
    """Without what is so soft that it must be the room or the hiss."""
    if not begun:
        return []
    least = float(np.percentile([each.level for each in begun], 90)) - _FAINT
    result: list[_Begun] = []
    for each in begun:
        lately = [other.level for other in result[-8:] if each.start - other.end < _ECHO_WITHIN]
        if each.level >= max([least, *(level - _ECHO for level in lately)]):
            result.append(each)
    return result


def _in_turn(begun: list[_Begun]) -> list[_Begun]:
    """In order, none reaching into the next, none too short."""
    result: list[_Begun] = []
    for each in begun:
        if each.end - each.start < _SHORTEST:
            continue
        if result and each.start < result[-1].end:
            result[-1] = result[-1]._replace(end=each.start)
            if result[-1].end - result[-1].start < _SHORTEST:
                result.pop()
        result.append(each)
    return result


def _note(begun: _Begun, midi: Array64, score: Array32, level: Array32) -> HeardNote:
    """What its held part says of a note."""
    speaking = min(_SPEAKING, _SPEAKING_PART * (begun.end - begun.start))
    first = max(begun.run.first, round((begun.start + max(speaking, _SETTLED)) / HOP))
    end = min(begun.run.end, round((begun.end - _SETTLED / 2) / HOP))
    if end - first < 3:
        first, end = begun.run.first, begun.run.end
    low, mid, high = np.percentile(midi[first:end], (25, 50, 75))
    spread = float(50 * (high - low))
    clear = float(np.clip(np.median(score[first:end]) / CLEAR, 0, 1))
    return HeardNote(
        start=begun.start,
        end=begun.end,
        hz=float(440 * 2 ** ((mid - 69) / 12)),
        spread=spread,
        level=float(np.percentile(level[first:end], 75)),
        attack=begun.attack,
        surety=clear / (1 + (spread / _UNSTEADY) ** 2),
    )


def _fitted(midi: Array64, begun: list[_Begun]) -> Array32:
    """The pitch of each frame in Hz, each note's from its onset to its end, 0 elsewhere."""
    hz = np.zeros(len(midi), dtype=np.float32)
    for each in begun:
        first = int(np.ceil(each.start / HOP - 1e-9))
        end = min(len(midi), int(np.ceil(each.end / HOP - 1e-9)))
        if end <= first:
            continue
        frames = np.clip(np.arange(first, end), each.run.first, each.run.end - 1)
        hz[first:end] = 440 * 2 ** ((midi[frames] - 69) / 12)
    return hz
