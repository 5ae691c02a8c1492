"""Tunes compared with all others, by one process or several.

Public: `Found`, `ToCompare`, `OFFERED_NAMESAKES`, `sketch_from`, `sketches_from`, `likes`,
`candidates_by`, `compared_by`, `written`, `read_back`.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
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

OFFERED_NAMESAKES = 0.1
"""Score from which tunes of one title are offered. Titles alone are no likeness: of a hundred pairs
of one title in two collections whose score is under 0.05, hardly any are the same tune."""


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
    tune: int,
    sketch: Sketch,
    candidates: Iterable[int],
    namesakes: Collection[int],
    sketch_at: Callable[[int], Sketch],
) -> Iterator[Found]:
    """Those of the candidates and namesakes that are settings of the tune.

    The one with the lower number is compared with the other, so that both ways give the same. Of
    namesakes less likeness is asked.
    """
    for other in sorted({*candidates, *namesakes} - {tune}):
        theirs = sketch_at(other)
        first, second = (sketch, theirs) if tune < other else (theirs, sketch)
        same = compare(first, second)
        if same.score >= (OFFERED_NAMESAKES if other in namesakes else OFFERED):
            yield Found(other, same.score, written(differing(first, second, same)))


def candidates_by(task: tuple[str, int, int]) -> list[list[int]]:
    """For a process of its own: which tunes each of those from one place to another of the sketches
    in a folder is to be compared with."""
    folder, first, last = task
    sketches, pool = _opened(folder)
    return [nearest(pool, own_codes(sketches[tune].grams)) for tune in range(first, last)]


class ToCompare(NamedTuple):
    """What a tune is to be compared with."""

    candidates: tuple[int, ...]
    namesakes: tuple[int, ...]


def compared_by(task: tuple[str, int, Sequence[ToCompare]]) -> list[list[Found]]:
    """For a process of its own: tunes from a place on, each compared with what it is to be."""
    folder, first, asked = task
    at = _at(folder)
    return [list(likes(tune, at(tune), *each, at)) for tune, each in enumerate(asked, start=first)]


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
