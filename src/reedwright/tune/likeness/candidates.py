"""Where in a collection a query may lie: places that share runs of intervals with it.

Public: `candidates`, `Windows`.

Every note of the query asks the index for the places that go on with the same intervals, as
many intervals as are needed to have few enough places. A place votes for the window of the
collection in which the whole query would then lie, at the transposition that follows, the more
the longer the shared run. Runs over one note left out are asked for, too, so that a note
too many does not break them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.collection import DEPTH, Collection

MOST_PLACES = 6_000  # of one run: commoner runs are asked for one interval longer
FEWEST_INTERVALS = 2
WIDTH = 8  # places by which windows lie apart
MOST_WINDOWS = 800
_SLOTS = 131_071  # a prime, so that regular keys do not fall together
MOST_SKIPPED_IN = 40  # notes of the query, up to which runs over a note are tried


class Windows(NamedTuple):
    """Windows, best first: where each begins (about), and its transposition modulo 12."""

    starts: npt.NDArray[np.int64]
    shifts: npt.NDArray[np.int64]


class _Votes(NamedTuple):
    places: npt.NDArray[np.int64]  # where the query's first note would lie
    shifts: npt.NDArray[np.int64]
    weights: npt.NDArray[np.float32]


def candidates(
    collection: Collection,
    pitches: Sequence[int],
    among: npt.NDArray[np.bool_] | None = None,
    leaning: npt.NDArray[np.float32] | None = None,
) -> Windows:
    """Windows that share a run of intervals with `pitches` (whole MIDI notes).

    `among`, of shape (tunes,): tunes that may be found. `leaning`: by what factor votes count for
    more where something begins, by `Start`.
    """
    votes = list(_votes(collection, pitches))
    if not votes:
        none = np.zeros(0, dtype=np.int64)
        return Windows(none, none)
    places = np.concatenate([vote.places for vote in votes])
    shifts = np.concatenate([vote.shifts for vote in votes])
    weights = np.concatenate([vote.weights for vote in votes])
    if among is not None:
        found_in = np.searchsorted(collection.firsts, places, "right") - 1
        kept = among[np.maximum(found_in, 0)]
        places, shifts, weights = places[kept], shifts[kept], weights[kept]
    if not len(places):
        none = np.zeros(0, dtype=np.int64)
        return Windows(none, none)
    if leaning is not None:
        weights = weights * leaning[_begins_near(collection, places)]
    # Every vote counts for two windows that overlap: no border divides what belongs together.
    keys = np.concatenate(
        [(2 * ((places + half * WIDTH // 2) // WIDTH) - half) * 12 + shifts for half in (0, 1)]
    )
    keys, doubled = _promising(keys, np.concatenate((weights, weights)))
    order = np.argsort(keys)
    keys, doubled = keys[order], doubled[order]
    first = np.flatnonzero(np.concatenate(([True], keys[1:] != keys[:-1])))
    sums = np.add.reduceat(doubled, first)
    best = np.argsort(-sums, kind="stable")[: 2 * MOST_WINDOWS]
    chosen = keys[first[best]]
    starts, shift = chosen // 12 * (WIDTH // 2), chosen % 12
    return _apart(starts, shift)


def _begins_near(collection: Collection, places: npt.NDArray[np.int64]) -> npt.NDArray[np.uint8]:
    """The most that begins at each place or beside it: a note missed or added moves all others."""
    last = len(collection.starts) - 1
    near = [collection.starts[np.clip(places + step, 0, last)] for step in (-1, 0, 1)]
    found: npt.NDArray[np.uint8] = np.maximum(np.maximum(near[0], near[1]), near[2])
    return found


def _promising(
    keys: npt.NDArray[np.int64], weights: npt.NDArray[np.float32]
) -> tuple[npt.NDArray[np.int64], npt.NDArray[np.float32]]:
    """The votes for keys that have a chance: counting in a small table by the key's
    remainder is quicker than sorting all votes, however many tunes there are."""
    wanted = 4 * MOST_WINDOWS
    slots = keys % _SLOTS
    sums = np.bincount(slots, weights, _SLOTS)
    if np.count_nonzero(sums) <= wanted:
        return keys, weights
    least = np.partition(sums, _SLOTS - wanted)[_SLOTS - wanted]
    kept = sums[slots] >= least
    return keys[kept], weights[kept]


def _apart(starts: npt.NDArray[np.int64], shifts: npt.NDArray[np.int64]) -> Windows:
    """Of two windows that overlap by half at one transposition, the better one is enough."""
    half = WIDTH // 2
    taken: set[tuple[int, int]] = set()
    kept: list[int] = []
    for k, pair in enumerate(zip(starts.tolist(), shifts.tolist(), strict=True)):
        start, shift = pair
        if (start - half, shift) in taken or (start + half, shift) in taken:
            continue
        taken.add(pair)
        kept.append(k)
        if len(kept) == MOST_WINDOWS:
            break
    return Windows(starts[kept], shifts[kept])


def _votes(collection: Collection, pitches: Sequence[int]) -> Iterator[_Votes]:
    for k, intervals, weight in _runs(pitches):
        stretches = []
        for count in range(min(FEWEST_INTERVALS, len(intervals)), min(DEPTH, len(intervals)) + 1):
            low, high = collection.stretch_of(intervals[:count])
            if low == high:
                break
            stretches.append((count, low, high))
        few = [each for each in stretches if each[2] - each[1] <= MOST_PLACES]
        if not few:
            if not stretches:
                continue
            count, low, high = stretches[-1]
            few = [(count, low, min(high, low + MOST_PLACES))]
        count, low, high = few[0]
        places = collection.order[low:high].astype(np.int64)
        weights = np.full(high - low, weight * count, dtype=np.float32)
        for _, inner, outer in few[1:]:
            weights[inner - low : outer - low] += weight
        shifts = (collection.midi[places].astype(np.int64) - pitches[k]) % 12
        yield _Votes(places - k, shifts, weights)


def _runs(pitches: Sequence[int]) -> Iterator[tuple[int, list[int], float]]:
    """Runs of intervals from each note, and from each with one later note left out: the
    index of its first note, the intervals, and how much they count."""
    count = len(pitches)
    for k in range(count - FEWEST_INTERVALS):
        part = pitches[k : k + DEPTH + 1]
        yield k, [b - a for a, b in pairwise(part)], 1.0
    if count > MOST_SKIPPED_IN:
        return
    for k in range(count - FEWEST_INTERVALS - 2):
        for left_out in (1, 2):
            part = [*pitches[k : k + left_out], *pitches[k + left_out + 1 : k + DEPTH + 2]]
            if len(part) > FEWEST_INTERVALS + 1:
                yield k, [b - a for a, b in pairwise(part)], 0.7
