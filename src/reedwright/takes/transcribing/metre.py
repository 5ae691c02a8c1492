"""Where the bar lines are: metre, first beat and type, by weighing all readings.

Public: `readings_of`, `Reading`.

For every grid that fits (`grid`), every metre of its family and every place where the first
bar line may be, these are added up, each a logarithm of likelihood:

* how well the onsets fit the grid;
* how usual the moves from place to place in the bar are in old collections, and on what
  places tunes begin and end;
* which degrees of the scale stand on which places;
* accents: how much louder the notes on beats are;
* whether the tune comes again after 8 bars (or 4, or 16);
* how usual tempo and lilt are for a type of tune in that metre (`kinds`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.transcribing.grid import Fit, measured_swing
from reedwright.takes.transcribing.kinds import Kind
from reedwright.takes.transcribing.model import TICKS, Stroke
from reedwright.takes.transcribing.rhythms import (
    BAR_TICKS,
    BEAT_TICKS,
    COMPOUND,
    FAMILY,
    MeterTable,
    tables,
)
from reedwright.tune.keyfinding import key_of_notes

Array = npt.NDArray[np.float64]

# What each kind of evidence weighs; tried on takes of other tunes.
MOVES_WEIGHT = 0.55  # moves of neighbouring notes tell much the same, so they count for less
TIMING_WEIGHT = 0.55
EDGE_WEIGHT = 2.0
DEGREES_WEIGHT = 0.8
ACCENT_WEIGHT = 0.6
AGAIN_WEIGHT = 26.0
KIND_WEIGHT = 3.0
AGAIN_AFTER = {8: 1.0, 4: 0.85, 16: 0.8, 12: 0.7, 6: 0.6}  # bars, and how usual that is
MOST_ACCENT = 8.0  # standard errors
SHIFT = 6  # ticks between two places where a bar line may be


class Reading(NamedTuple):
    """One way to bar the take. `shift`: ticks to add to the grid's, so that bar lines fall
    on whole bars. `score`: logarithm of likelihood, up to a constant."""

    fit: Fit
    kind: Kind
    ticks: int  # a bar's
    shift: int
    score: float
    swing: float
    quarters_per_minute: float
    parts: tuple[float, ...]


def table_of(kind: Kind) -> MeterTable | None:
    """What is known of a metre: its own table, or for odd ones none."""
    meter = kind.meter
    if meter.free:
        return None
    name = "4/4" if meter.name == "2/2" else meter.name
    return tables().get(name)


def readings_of(
    strokes: Sequence[Stroke],
    fits: Sequence[Fit],
    kinds: Sequence[Kind],
    quarters_per_minute: float | None = None,
) -> list[Reading]:
    """All readings, the likeliest first."""
    times = np.array([stroke.start for stroke in strokes])
    midis = np.array([stroke.midi for stroke in strokes])
    degrees, minor = _degrees(strokes)
    levels = _standardised([stroke.level for stroke in strokes])
    found: list[Reading] = []
    for fit in fits:
        swing = measured_swing(fit, times)
        again = _coming_again(fit.ticks, midis)
        for name, table in tables().items():
            of_metre = [kind for kind in kinds if table_of(kind) is table]
            if FAMILY[name] != fit.family or not of_metre:
                continue
            kind, likely, tempo = _best_kind(fit, of_metre, swing, quarters_per_minute)
            scores, parts = _by_shift(fit, table, degrees, minor, levels)
            best = _again_score(again, table.ticks)
            base = -TIMING_WEIGHT * fit.cost + KIND_WEIGHT * likely + AGAIN_WEIGHT * best
            for shift, score in enumerate(scores):
                if shift % SHIFT == 0:
                    found.append(
                        Reading(
                            fit, kind, table.ticks, shift, float(base + score), swing, tempo,
                            (-TIMING_WEIGHT * fit.cost, KIND_WEIGHT * likely,
                             AGAIN_WEIGHT * best, *(float(p[shift]) for p in parts)),
                        )
                    )  # fmt: skip
    return sorted(found, key=lambda reading: -reading.score)


def _best_kind(
    fit: Fit, kinds: Sequence[Kind], swing: float, wished: float | None
) -> tuple[Kind, float, float]:
    tempo = 60.0 / fit.beat * BEAT_TICKS[fit.family] / TICKS
    compound = fit.family == COMPOUND
    scored = [(kind.likelihood(tempo, swing, compound), k) for k, kind in enumerate(kinds)]
    likely, at = max(scored)
    if wished:
        likely = -0.5 * float(np.log(tempo / wished) / 0.12) ** 2
    return kinds[at], likely, tempo


def _by_shift(
    fit: Fit, table: MeterTable, degrees: npt.NDArray[np.int64], minor: int, levels: Array
) -> tuple[Array, list[Array]]:
    """The score of each place where the bar line may be: (bar ticks,)."""
    bar = table.ticks
    shifts = np.arange(bar)
    places = (fit.ticks[:, None] + shifts[None, :]) % bar
    steps = np.clip(np.diff(fit.ticks), 0, 2 * bar)
    moves = MOVES_WEIGHT * table.moves[places[:-1], steps[:, None]].sum(axis=0)
    edges = EDGE_WEIGHT * (table.starts[places[0]] + table.ends[places[-1]])
    tones = DEGREES_WEIGHT * table.degrees[minor, places, degrees[:, None]].sum(axis=0)
    accents = ACCENT_WEIGHT * _accents(places, levels, bar, BEAT_TICKS[fit.family])
    return moves + edges + tones + accents, [moves, edges, tones, accents]


def _accents(places: npt.NDArray[np.int64], levels: Array, bar: int, beat: int) -> Array:
    """How many standard errors louder first beats, and beats, are than the rest."""
    found = np.zeros(bar)
    for shift in range(0, bar, SHIFT):
        at = places[:, shift]
        first, beats = at == 0, at % beat == 0
        found[shift] = _difference(levels, first, ~first) + _difference(levels, beats, ~beats)
    return found


def _difference(levels: Array, ones: npt.NDArray[np.bool_], others: npt.NDArray[np.bool_]) -> float:
    n, m = int(ones.sum()), int(others.sum())
    if n < 4 or m < 4:
        return 0.0
    away = (levels[ones].mean() - levels[others].mean()) / np.sqrt(1 / n + 1 / m)
    return float(np.clip(away, -MOST_ACCENT, MOST_ACCENT))


def _standardised(levels: Sequence[float]) -> Array:
    values = np.asarray(levels, dtype=np.float64)
    spread = float(np.std(values))
    if spread < 1e-6:
        return np.zeros(len(values))
    return np.clip((values - np.median(values)) / spread, -3, 3)


def _degrees(strokes: Sequence[Stroke]) -> tuple[npt.NDArray[np.int64], int]:
    estimate = key_of_notes(
        ((s.midi, s.end - s.start) for s in strokes), strokes[-1].midi if strokes else None
    )
    tonic = estimate.key.tonic_pitch_class if estimate else 0
    minor = int(estimate is not None and estimate.key.mode in ("minor", "dorian"))
    return np.array([(s.midi - tonic) % 12 for s in strokes], dtype=np.int64), minor


def _coming_again(ticks: npt.NDArray[np.int64], midis: npt.NDArray[np.int64]) -> Array:
    """For each lag in ticks, the share of notes that come again so much later, pitch and
    place; among notes that have a later one at all, shrunk where these are few."""
    span = int(ticks[-1] - ticks[0])
    most = min(span, 16 * max(BAR_TICKS.values()))
    line = np.zeros(span + 1, dtype=np.int64)
    line[ticks - ticks[0]] = midis
    found = np.zeros(most + 1)
    for lag in range(SHIFT * 4, most + 1, SHIFT):
        ones, others = line[:-lag], line[lag:]
        here = int(np.count_nonzero(ones))
        same = int(np.count_nonzero((ones == others) & (ones > 0)))
        found[lag] = same / (here + 12)
    return found


def _again_score(again: Array, bar: int) -> float:
    """How strongly the tune comes again after a usual number of bars."""
    return max(
        (usual * float(again[bars * bar]) for bars, usual in AGAIN_AFTER.items()
         if bars * bar < len(again)),
        default=0.0,
    )  # fmt: skip
