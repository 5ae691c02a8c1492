"""Runs that are one: where a few notes were lost, the music between is put back.

A cluster of missed notes can make it cheaper to leave the tune and to enter it again a bar
later. If the notes of the tune between the two fit the time between them, nobody stopped: what is
between was missed, or is among the notes heard there.

Public: `bridges`, `without_strays`, `Bridge`.
"""

from __future__ import annotations

from collections.abc import Mapping
from collections.abc import Sequence as Several
from math import log
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.following.path import Match, Path, Sequence
from reedwright.takes.following.score import Score, Step

_MOST_NOTES = 14  # of the tune between
_MOST_HEARD = 14
_MISFIT = 0.2  # natural logarithm of the time heard over that expected
_MOST_COST = 0.5  # of the steps: as written, or round again
_STOP = 0.5  # seconds of silence that are a stop and not lost notes
_STRAY_NOTES = 24
_STRAY_SECONDS = 12.0  # from a run to any other that make it stray
_PITCH = 0.6  # semitones within which a heard note is the written one


class Bridge(NamedTuple):
    """Between two matches: the steps from one to the other, and the heard note of each (the
    last step's is that of the second match)."""

    steps: tuple[Step, ...]
    heard: tuple[int | None, ...]


def bridges(
    score: Score, matches: Several[Match], heard: Sequence, semitones: float
) -> dict[int, Bridge]:
    """By the index of a match that begins a run: how it goes on from the one before."""
    found: dict[int, Bridge] = {}
    for k in range(1, len(matches)):
        one, two = matches[k - 1], matches[k]
        if two.edge >= 0 or two.heard - one.heard - 1 > _MOST_HEARD:
            continue
        if _silence(heard, one.heard, two.heard) > _STOP:
            continue
        seconds = float(heard.start[two.heard] - heard.start[one.heard])
        pace = _pace(score, matches, k, heard)
        steps = _way(score, one.place, two.place, seconds / pace)
        if steps is not None:
            between = range(one.heard + 1, two.heard)
            by = _played_by(score, steps[:-1], between, heard, semitones)
            found[k] = Bridge(steps, (*by, two.heard))
    return found


def without_strays(
    path: Path, joins: Mapping[int, Bridge], start: npt.NDArray[np.float64]
) -> tuple[Path, dict[int, Bridge]]:
    """Without short runs far from all others, where a longer one shows where the tune is."""
    matches = path.matches
    if not matches:
        return path, {}
    begins = [k for k, match in enumerate(matches) if match.edge < 0 and k not in joins]
    runs = list(zip(begins, [*begins[1:], len(matches)], strict=True))
    if max((last - first for first, last in runs), default=0) < 2 * _STRAY_NOTES:
        return path, dict(joins)
    times = [(float(start[matches[a].heard]), float(start[matches[b - 1].heard])) for a, b in runs]
    kept: list[Match] = []
    moved: dict[int, Bridge] = {}
    for k, (first, last) in enumerate(runs):
        near = [times[j] for j in (k - 1, k + 1) if 0 <= j < len(runs)]
        alone = all(
            begin - times[k][1] > _STRAY_SECONDS or times[k][0] - end > _STRAY_SECONDS
            for begin, end in near
        )
        if last - first < _STRAY_NOTES and alone:
            continue
        shift = len(kept) - first
        moved |= {j + shift: joins[j] for j in range(first, last) if j in joins}
        kept += matches[first:last]
    return path._replace(matches=tuple(kept)), moved


def _silence(heard: Sequence, one: int, two: int) -> float:
    """The longest time without a note from one heard note to another, in seconds."""
    starts = heard.start[one + 1 : two + 1]
    ends = heard.start[one:two] + heard.seconds[one:two]
    return float((starts - ends).max())


def _pace(score: Score, matches: Several[Match], k: int, heard: Sequence) -> float:
    """Seconds a quarter note on both sides of the gap; else what is expected there."""
    seconds = quarters = 0.0
    for j in (*range(max(1, k - 8), k), *range(k + 1, min(len(matches), k + 9))):
        edge = matches[j].edge
        if edge < 0:
            continue
        step = float(heard.start[matches[j].heard] - heard.start[matches[j - 1].heard])
        expected = float(score.quarters[edge]) * float(heard.pace[matches[j].heard])
        if expected > 0 and abs(log(max(step, 1e-3) / expected)) < 0.7:
            seconds += step
            quarters += float(score.quarters[edge])
    if quarters < 2:
        return float(heard.pace[matches[k].heard])
    return seconds / quarters


def _way(score: Score, one: int, two: int, quarters: float) -> tuple[Step, ...] | None:
    """The steps as written from one place to another that take about so many quarters."""
    waiting: list[tuple[int, float, float, tuple[Step, ...]]] = [(one, 0.0, 0.0, ())]
    best: tuple[float, tuple[Step, ...]] | None = None
    tried = 0
    while waiting and tried < 2000:
        here, length, cost, way = waiting.pop()
        tried += 1
        for step in score.next[here]:
            total, sum_ = length + float(step.quarters), cost + step.cost
            if sum_ > _MOST_COST or total > 1.3 * quarters or len(way) > _MOST_NOTES:
                continue
            steps = (*way, step)
            if step.to == two and total > 0:
                misfit = abs(log(quarters / total))
                if misfit < _MISFIT and (best is None or misfit < best[0]):
                    best = (misfit, steps)
            waiting.append((step.to, total, sum_, steps))
    return None if best is None else best[1]


def _played_by(
    score: Score,
    steps: Several[Step],
    between: range,
    heard: Sequence,
    semitones: float,
) -> list[int | None]:
    """Which of the heard notes between play the written ones: as many as can in order."""
    pitches = [score.places[step.to].midi + semitones for step in steps]
    table = [[0] * (len(pitches) + 1) for _ in range(len(between) + 1)]
    for i in range(len(between) - 1, -1, -1):
        for j in range(len(pitches) - 1, -1, -1):
            same = abs(float(heard.midi[between[i]]) - pitches[j]) < _PITCH
            table[i][j] = max(
                table[i + 1][j], table[i][j + 1], table[i + 1][j + 1] + 1 if same else 0
            )
    found: list[int | None] = [None] * len(pitches)
    i = j = 0
    while i < len(between) and j < len(pitches):
        same = abs(float(heard.midi[between[i]]) - pitches[j]) < _PITCH
        if same and table[i][j] == table[i + 1][j + 1] + 1:
            found[j] = between[i]
            i, j = i + 1, j + 1
        elif table[i][j] == table[i + 1][j]:
            i += 1
        else:
            j += 1
    return found
