"""Where the bar lines are: metre, first beat and type, by weighing all readings.

Public: `readings_of`, `Reading`.

For every grid that fits (`grid`), every metre of its family and every place where the first
bar line may be, these are added up, each a logarithm of likelihood:

* how well the onsets fit the grid;
* how usual the moves from place to place in the bar are in old collections, and on what
  places tunes begin and end;
* which degrees of the scale stand on which places;
* accents: how much louder the notes on beats are;
* after how many bars, or parts of one, the tune comes again, and where it rests
  (`patterns`);
* how usual tempo and lilt are for a type of tune in that metre (`kinds`).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.transcribing.grid import Fit
from reedwright.takes.transcribing.kinds import Kind
from reedwright.takes.transcribing.model import TICKS, Stroke
from reedwright.takes.transcribing.patterns import Patterns, coming_again, patterns_of
from reedwright.takes.transcribing.rhythms import (
    BEAT_TICKS,
    COMPOUND,
    SIMPLE,
    MeterTable,
    table_by_beats,
    tables,
)
from reedwright.tune.keyfinding import key_of_notes

Array = npt.NDArray[np.float64]


class Evidence(NamedTuple):
    """What speaks for a reading, each a logarithm of likelihood or the like (see above).

    What is summed over notes is brought to `NOTES_COUNTED` of them, as neighbouring notes
    tell much the same. `metre_moves` and `metre_degrees` are those of the metre's best bar
    lines, `moves` and `degrees` how far short of them these bar lines fall.
    """

    timing: float
    moves: float
    metre_moves: float
    edges: float
    degrees: float
    metre_degrees: float
    first_accent: float
    beat_accent: float
    whole: float
    share: float
    tempo: float
    lilt: float


# What each kind of evidence weighs: fitted (conditional logit) on 220 tunes of the 1850
# collection that are not among those measured, without accents; accents and lilt by trial.
WEIGHTS = Evidence(
    timing=0.37, moves=1.02, metre_moves=0.21, edges=1.15, degrees=0.28, metre_degrees=0.33,
    first_accent=1.0, beat_accent=0.5, whole=1.72, share=1.2, tempo=3.07, lilt=0.3,
)  # fmt: skip
# Half of what was fitted, with all else, on 300 such tunes heard by a symbolic listener: set
# beside the weights above, this half did best on 124 other takes heard by ear.
PATTERN_WEIGHTS = Patterns(
    after_bar=1.28, after_2=10.4, after_4=9.4, after_8=4.8, after_16=3.3, after_half=11.6,
    after_third=19.0, calm=1.0, sixteens=1.0, long_firsts=4.4,
)  # fmt: skip
NOTES_COUNTED = 50
LEAST_TIMING, LEAST_MOVES = -200.0, -150.0  # one take gone astray is not to outweigh all else
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
    evidence: Evidence


def table_of(kind: Kind) -> MeterTable:
    """What is known of a metre: its own table, or for odd ones what is known of its beats."""
    meter = kind.meter
    name = "4/4" if meter.name in ("2/2", "none") else meter.name
    if name in tables():
        return tables()[name]
    bar = int((meter.bar_length or 4) * TICKS)
    return table_by_beats(name, COMPOUND if meter.compound else SIMPLE, bar)


def readings_of(
    strokes: Sequence[Stroke],
    fits: Sequence[Fit],
    kinds: Sequence[Kind],
    quarters_per_minute: float | None = None,
) -> list[Reading]:
    """All readings, the likeliest first."""
    midis = np.array([stroke.midi for stroke in strokes])
    degrees, minor = _degrees(strokes)
    levels = _standardised([stroke.level for stroke in strokes])
    found: list[Reading] = []
    counted = min(1.0, NOTES_COUNTED / len(strokes))
    for fit in fits:
        again = coming_again(fit.ticks, midis)
        for table in {table_of(kind).name: table_of(kind) for kind in kinds}.values():
            of_metre = [kind for kind in kinds if table_of(kind).name == table.name]
            if table.family != fit.family:
                continue
            kind, tempo = _best_kind(fit, of_metre, quarters_per_minute)
            about_kind = _about_kind(kind, tempo, fit, quarters_per_minute)
            shifts = range(0, table.ticks, SHIFT)
            moves, edges, tones, first, beats = (
                each[::SHIFT] for each in _by_shift(fit, table, degrees, minor, levels)
            )
            for k, shift in enumerate(shifts):
                evidence = Evidence(
                    timing=max(LEAST_TIMING, -fit.cost * counted),
                    moves=float(moves[k] - moves.max()),
                    metre_moves=float(moves.max()),
                    edges=float(edges[k]),
                    degrees=float(tones[k] - tones.max()),
                    metre_degrees=float(tones.max()),
                    first_accent=float(first[k]),
                    beat_accent=float(beats[k]),
                    whole=_whole(fit, table.ticks, shift),
                    share=about_kind[0],
                    tempo=about_kind[1],
                    lilt=about_kind[2],
                )
                score = _weighed(evidence, patterns_of(fit.ticks + shift, table.ticks, again))
                found.append(
                    Reading(fit, kind, table.ticks, shift, score, fit.swing, tempo, evidence)
                )
    return sorted(found, key=lambda reading: -reading.score)


def _weighed(evidence: Evidence, patterns: Patterns) -> float:
    return sum(w * e for w, e in zip(WEIGHTS, evidence, strict=True)) + sum(
        w * p for w, p in zip(PATTERN_WEIGHTS, patterns, strict=True)
    )


def _best_kind(fit: Fit, kinds: Sequence[Kind], wished: float | None) -> tuple[Kind, float]:
    """The type that goes best with tempo and lilt, and the tempo."""
    tempo = 60.0 / fit.beat * BEAT_TICKS[fit.family] / TICKS

    def likely(kind: Kind) -> float:
        share, fast, lilt = _about_kind(kind, tempo, fit, wished)
        return WEIGHTS.share * share + WEIGHTS.tempo * fast + WEIGHTS.lilt * lilt

    return max(kinds, key=likely), tempo


def _about_kind(
    kind: Kind, tempo: float, fit: Fit, wished: float | None
) -> tuple[float, float, float]:
    fast = kind.of_tempo(tempo) if wished is None else -0.5 * (np.log(tempo / wished) / 0.1) ** 2
    return (
        kind.how_common(),
        float(fast),
        0.0 if fit.family == COMPOUND else kind.of_swing(fit.swing),
    )


def _by_shift(
    fit: Fit, table: MeterTable, degrees: npt.NDArray[np.int64], minor: int, levels: Array
) -> tuple[Array, ...]:
    """For each place where the bar line may be, (bar ticks,): moves, edges, degrees, accents."""
    bar = table.ticks
    shifts = np.arange(bar)
    places = (fit.ticks[:, None] + shifts[None, :]) % bar
    steps = np.clip(np.diff(fit.ticks), 0, 2 * bar)
    counted = min(1.0, NOTES_COUNTED / len(places))
    moves = np.maximum(LEAST_MOVES, counted * table.moves[places[:-1], steps[:, None]].sum(axis=0))
    edges = table.starts[places[0]] + table.ends[places[-1]]
    tones = counted * table.degrees[minor, places, degrees[:, None]].sum(axis=0)
    first, beats = _accents(places, levels, bar, BEAT_TICKS[fit.family])
    return moves, edges, tones, first, beats


def _accents(
    places: npt.NDArray[np.int64], levels: Array, bar: int, beat: int
) -> tuple[Array, Array]:
    """How many standard errors louder first beats, and beats, are than the rest."""
    first, beats = np.zeros(bar), np.zeros(bar)
    for shift in range(0, bar, SHIFT):
        at = places[:, shift]
        first[shift] = _difference(levels, at == 0, at != 0)
        beats[shift] = _difference(levels, at % beat == 0, at % beat != 0)
    return first, beats


def _whole(fit: Fit, bar: int, shift: int) -> float:
    """Whether the take lasts a usual number of bars: multiples of 8, of 4, of 2."""
    first = (int(fit.ticks[0]) + shift) // bar + (1 if (int(fit.ticks[0]) + shift) % bar else 0)
    count = (int(fit.ticks[-1]) + shift) // bar - first + 1
    return 1.0 if count % 8 == 0 else 0.6 if count % 4 == 0 else 0.3 if count % 2 == 0 else 0.0


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
