"""Tunes compared with all others, by one process or several.

Public: `Found`, `sketch_from`, `sketches_from`, `likes`, `candidates_by`,
`compared_by`, `written`, `read_back`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np

from reedwright.shelf.facts.melodies import PLACE
from reedwright.tune.likeness.differing import BarsAlike, Differing, differing
from reedwright.tune.likeness.once import line_from_places
from reedwright.tune.likeness.pairing import Pool, nearest, own_codes, pool_of
from reedwright.tune.likeness.sameness import OFFERED, compare
from reedwright.tune.likeness.sketches import Sketch, Sketches, opened, sketch_of, sketches_of


class Found(NamedTuple):
    """A tune that is like another one: its place or number, the score, how it differs."""

    other: int
    score: float
    differs: str


def sketch_from(melody: bytes) -> Sketch:
    """The sketch of a melody as table `fact` keeps it."""
    places = np.frombuffer(melody, dtype=PLACE)
    return sketch_of(
        line_from_places(places["midi"], places["onset"], places["length"], places["bar"])
    )


def sketches_from(melodies: Sequence[bytes]) -> Sketches:
    """Of many melodies."""
    return sketches_of(sketch_from(each) for each in melodies)


def likes(
    tune: int, sketch: Sketch, candidates: Sequence[int], sketch_at: Callable[[int], Sketch]
) -> Iterator[Found]:
    """Those of the candidates that are settings of the tune.

    The one with the lower number is compared with the other, so that both ways give the same.
    """
    for other in candidates:
        if other == tune:
            continue
        theirs = sketch_at(other)
        first, second = (sketch, theirs) if tune < other else (theirs, sketch)
        same = compare(first, second)
        if same.score >= OFFERED:
            yield Found(other, same.score, written(differing(first, second, same)))


def candidates_by(task: tuple[str, int, int]) -> list[list[int]]:
    """For a process of its own: which tunes each of those from one place to another of the sketches
    in a folder is to be compared with."""
    folder, first, last = task
    sketches, pool = _opened(folder)
    return [nearest(pool, own_codes(sketches[tune].grams)) for tune in range(first, last)]


def compared_by(task: tuple[str, int, Sequence[Sequence[int]]]) -> list[list[Found]]:
    """For a process of its own: tunes from a place on, each compared with its candidates."""
    folder, first, candidates = task
    at = _at(folder)
    return [
        list(likes(tune, at(tune), others, at))
        for tune, others in enumerate(candidates, start=first)
    ]


@lru_cache(maxsize=1)
def _opened(folder: str) -> tuple[Sketches, Pool]:
    sketches = opened(Path(folder))
    codes = [own_codes(sketches[tune].grams) for tune in range(len(sketches))]
    flat = np.concatenate([np.zeros(0, dtype=np.uint32), *codes])
    return sketches, pool_of(flat, np.array([len(each) for each in codes], dtype=np.int64))


@lru_cache(maxsize=1)
def _at(folder: str) -> Callable[[int], Sketch]:
    sketches = opened(Path(folder))

    @lru_cache(maxsize=2_000)
    def at(tune: int) -> Sketch:
        found: Sketch = sketches[tune]
        return found

    return at


def written(what: Differing) -> str:
    """As the database keeps it."""
    return json.dumps([*what._replace(agreement=round(what.agreement, 4))])


def read_back(text: str) -> Differing:
    """What `written` wrote."""
    what = Differing(*json.loads(text))
    return what._replace(bars=tuple(BarsAlike(*each) for each in what.bars))
