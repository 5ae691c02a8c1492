"""What old collections tell of where notes fall in a bar: `data/rhythms.json`.

Public: `tables`, `table_by_beats`, `beat_moves`, `key_tables`, `MeterTable`, `KeyTable`.

The file is made by `tools/learn_rhythms.py`, which says from which tunes. `moves` counts, for
each place in the bar (ticks), how far it is to the next onset; `starts` and `ends` where tunes'
first and last notes begin; `degrees` counts, by place, semitones above the tonic (12 for major
and mixolydian, then 12 for minor and dorian).
"""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.takes.transcribing.model import TICKS

DATA = Path(__file__).with_name("data") / "rhythms.json"
SIMPLE, COMPOUND = "simple", "compound"
BEAT_TICKS = {SIMPLE: TICKS, COMPOUND: 3 * TICKS // 2}
BAR_TICKS = {"2/4": 24, "4/4": 48, "3/4": 36, "6/8": 36, "9/8": 54, "12/8": 72, "3/8": 18}
FAMILY = {
    "2/4": SIMPLE, "4/4": SIMPLE, "3/4": SIMPLE,
    "6/8": COMPOUND, "9/8": COMPOUND, "12/8": COMPOUND, "3/8": COMPOUND,
}  # fmt: skip
_SMOOTH = 0.5  # added to every count, so that nothing is impossible
_PRIOR_DEGREES = 40.0  # notes' worth of belief that a place is like all others

Array = npt.NDArray[np.float64]


class MeterTable(NamedTuple):
    """Log probabilities of one metre.

    `moves` has shape (bar ticks, 2 * bar ticks + 1): from a place, how many ticks to the next
    onset (the last column: farther than that). `starts`, `ends`: (bar ticks,).
    `degrees`: (2, bar ticks, 12), how much likelier than elsewhere a degree is at a place.
    """

    name: str
    family: str
    ticks: int
    moves: Array
    starts: Array
    ends: Array
    degrees: Array


class KeyTable(NamedTuple):
    """Log probabilities of one mode, by semitones above the tonic: (12,). `mode`: its own."""

    sounds: Array
    last: Array
    first: Array
    mode: float


def key_tables() -> dict[str, KeyTable]:
    """All modes that are known, by name."""
    raw = _raw()["keys"]
    tunes = {mode: float(str(rows["tunes"][0])) for mode, rows in raw.items()}  # type: ignore[index]
    return {
        mode: KeyTable(
            _shares(rows["sounds"], 0.3),
            _shares(rows["last"], 0.3),
            _shares(rows["first"], 1.0),
            float(np.log(tunes[mode] / sum(tunes.values()))),
        )
        for mode, rows in raw.items()
    }


def _shares(row: object, smooth: float) -> Array:
    counts = np.asarray(row, dtype=np.float64) + smooth
    logs: Array = np.log(counts / counts.sum())
    return logs


@lru_cache(maxsize=1)
def _raw() -> dict[str, dict[str, dict[str, dict[str, object]]]]:
    found: dict[str, dict[str, dict[str, dict[str, object]]]] = json.loads(DATA.read_text())
    return found


@lru_cache(maxsize=1)
def tables() -> dict[str, MeterTable]:
    """All metres that are known, by name."""
    return {name: _table(name) for name in _raw()["meters"]}


def _table(name: str) -> MeterTable:
    raw = _raw()["meters"][name]
    bar = BAR_TICKS[name]
    moves = np.zeros((bar, 2 * bar + 1))
    for place, counts in raw["moves"].items():
        for step, count in counts.items():  # type: ignore[attr-defined]
            moves[int(place) % bar, min(int(step), 2 * bar)] += count
    moves[:, 1:] += _SMOOTH * _fineness(bar)
    moves[:, 0] = 1e-3
    degrees = np.zeros((2, bar, 12))
    for place, row in raw["degrees"].items():
        degrees[:, int(place) % bar] += np.array(row, dtype=float).reshape(2, 12)
    overall = degrees.sum(axis=1, keepdims=True) + 1.0
    overall /= overall.sum(axis=2, keepdims=True)
    degrees += _PRIOR_DEGREES * overall
    degrees /= degrees.sum(axis=2, keepdims=True)
    return MeterTable(
        name,
        FAMILY[name],
        bar,
        np.log(moves / moves.sum(axis=1, keepdims=True)),
        _edge(raw["starts"], bar),
        _edge(raw["ends"], bar),
        np.log(degrees / overall),
    )


@lru_cache(maxsize=16)
def table_by_beats(name: str, family: str, bar: int) -> MeterTable:
    """For a metre of which nothing is known but its beats: all bar lines are alike."""
    moves = np.zeros((bar, 2 * bar + 1))
    beat = BEAT_TICKS[family]
    for place, counts in _raw()["beats"][family].items():
        for step, count in counts.items():
            moves[int(place) % beat :: beat, min(int(step), 2 * bar)] += float(str(count))
    moves[:, 1:] += _SMOOTH * _fineness(bar)
    moves[:, 0] = 1e-3
    logs = np.log(moves / moves.sum(axis=1, keepdims=True))
    flat = _edge({"0": 10.0}, bar)
    return MeterTable(name, family, bar, logs, flat, flat, np.zeros((2, bar, 12)))


def _fineness(bar: int) -> Array:
    """How a step that was never seen is shared out: coarse ones are likelier."""
    steps = np.arange(1, 2 * bar + 1)
    return np.where(steps % 6 == 0, 1.0, np.where(steps % 3 == 0, 0.2, 0.04))


def _edge(counts: dict[str, object], bar: int) -> Array:
    found = np.full(bar, 0.3)
    found[::6] += 1.0
    for place, count in counts.items():
        found[int(place) % bar] += float(str(count))
    whole: Array = np.log(found / found.sum())
    return whole


@lru_cache(maxsize=2)
def beat_moves(family: str, places: tuple[int, ...], most: int) -> Array:
    """Log probabilities within beats: (from place, to place, beats between).

    `places` are those of the grid in one beat (ticks); `most` beats and more are one.
    """
    beat = BEAT_TICKS[family]
    found = np.zeros((len(places), len(places), most + 1))
    for place, counts in _raw()["beats"][family].items():
        if int(place) not in places:
            continue
        for step, count in counts.items():
            beats, to = divmod(int(place) + int(step), beat)
            if to in places:
                found[places.index(int(place)), places.index(to), min(beats, most)] += float(
                    str(count)
                )
    weights = np.array([_place_weight(p, family) for p in places])
    found += 0.5 * weights[None, :, None]
    for k in range(len(places)):
        found[k, : k + 1, 0] = 1e-9
    logs: Array = np.log(found / found.sum(axis=(1, 2), keepdims=True))
    return logs


def _place_weight(place: int, family: str) -> float:
    if place == 0:
        return 4.0
    return 2.0 if place % 6 == 0 else 0.5 if place % 3 == 0 else 0.1
