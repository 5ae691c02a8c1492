"""What of a tune is compared with other tunes, for one and for very many.

Public: `Sketch`, `sketch_of`, `heard_of`, `Sketches`, `sketches_of`, `opened`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.grams import Grams, grams
from reedwright.tune.likeness.once import Heard, Line, heard, usual_unit

REMEMBERED = 2_000  # lines in slots, 15 kB each


@dataclass(frozen=True, slots=True, eq=False)
class Sketch:
    """A tune's line, its usual note in quarter notes, its runs of intervals."""

    line: Line
    unit: float
    grams: Grams


def sketch_of(line: Line) -> Sketch:
    """A line made ready to be compared."""
    unit = usual_unit(line)
    return Sketch(line, unit, grams(line, unit))


@lru_cache(maxsize=REMEMBERED)
def heard_of(sketch: Sketch, doublings: int = 0) -> Heard:
    """The line in slots of its usual note, or of one 2 ** `doublings` times as long."""
    return heard(sketch.line, sketch.unit * 2.0**doublings)


@dataclass(frozen=True, slots=True, eq=False)
class Sketches(Sequence[Sketch]):
    """Sketches of many tunes in flat arrays, one tune after the other, that can lie in a file.

    `notes_at` and `runs_at`, of shape (tunes + 1,), say where each tune's notes and runs begin; the
    other arrays are those of `Line` and `Grams`.
    """

    notes_at: npt.NDArray[np.int64]
    midi: npt.NDArray[np.int16]
    onset: npt.NDArray[np.float32]
    length: npt.NDArray[np.float32]
    bar: npt.NDArray[np.int16]
    unit: npt.NDArray[np.float64]
    runs_at: npt.NDArray[np.int64]
    codes: npt.NDArray[np.uint32]
    run_onset: npt.NDArray[np.float32]
    run_span: npt.NDArray[np.float32]
    run_midi: npt.NDArray[np.int16]

    def __len__(self) -> int:
        return len(self.unit)

    def __getitem__(self, tune: Any) -> Any:
        notes = slice(int(self.notes_at[tune]), int(self.notes_at[tune + 1]))
        runs = slice(int(self.runs_at[tune]), int(self.runs_at[tune + 1]))
        return Sketch(
            Line(
                self.midi[notes],
                self.onset[notes].astype(np.float64),
                self.length[notes].astype(np.float64),
                self.bar[notes],
            ),
            float(self.unit[tune]),
            Grams(self.codes[runs], self.run_onset[runs], self.run_span[runs], self.run_midi[runs]),
        )

    def save(self, folder: Path) -> None:
        """Put the arrays into a folder, to be `opened` there, by other processes too."""
        for field in fields(self):
            np.save(folder / f"{field.name}.npy", getattr(self, field.name))


def opened(folder: Path) -> Sketches:
    """Sketches that were saved; their arrays stay in the files until they are needed."""
    return Sketches(
        *(
            # As plain arrays: slices of mapped ones are slow to make.
            np.load(folder / f"{field.name}.npy", mmap_mode="r").view(np.ndarray)
            for field in fields(Sketches)
        )
    )


def sketches_of(sketches: Iterable[Sketch]) -> Sketches:
    """Put together."""
    every = list(sketches)
    lines, runs = [each.line for each in every], [each.grams for each in every]
    return Sketches(
        _starts([len(line.midi) for line in lines]),
        _joined([line.midi for line in lines], np.int16),
        _joined([line.onset for line in lines], np.float32),
        _joined([line.length for line in lines], np.float32),
        _joined([line.bar for line in lines], np.int16),
        np.array([each.unit for each in every], dtype=np.float64),
        _starts([len(each.codes) for each in runs]),
        _joined([each.codes for each in runs], np.uint32),
        _joined([each.onset for each in runs], np.float32),
        _joined([each.span for each in runs], np.float32),
        _joined([each.midi for each in runs], np.int16),
    )


def joined(parts: Sequence[Sketches]) -> Sketches:
    """Several, one after the other."""
    found: dict[str, npt.NDArray[Any]] = {}
    for field in fields(Sketches):
        arrays = [getattr(part, field.name) for part in parts]
        if field.name.endswith("_at"):
            found[field.name] = _starts(np.concatenate([np.diff(each) for each in arrays]))
        else:
            found[field.name] = np.concatenate(arrays)
    return Sketches(**found)


def _starts(counts: Sequence[int] | npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    return np.concatenate(([0], np.cumsum(counts, dtype=np.int64)))


def _joined(arrays: Sequence[npt.NDArray[Any]], kind: type[Any]) -> npt.NDArray[Any]:
    return np.concatenate([np.zeros(0, dtype=kind), *arrays]).astype(kind)
