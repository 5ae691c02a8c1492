"""Tunes of a collection that are like a whole tune.

Public: `alike`.

The index of the collection names the tunes that share runs of intervals with it; a run counts by
how few tunes have it (as in `pairing`). The best of these are compared with it stretch by stretch
(`sameness`).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.collection import DEPTH, Collection
from reedwright.tune.likeness.melody import MelodyNote
from reedwright.tune.likeness.once import Line, line_from_places, line_of
from reedwright.tune.likeness.sameness import compare
from reedwright.tune.likeness.sketches import sketch_of

COMPARED = 40  # tunes that are looked at closely, or twice as many as are asked for
MOST_COMPARED = 200
INTERVALS = 5  # in a run: the longer, the fewer tunes have it, and the sooner a variant breaks it
COMMON = 2_000  # places: a run that common tells nothing
SHORTEST = 60  # places: that a short tune has few must not raise it above all others


def alike(
    collection: Collection,
    melody: Sequence[Sequence[MelodyNote]],
    limit: int,
    among: npt.NDArray[np.bool_] | None = None,
) -> list[tuple[int, float]]:
    """The tunes most like that melody (its strips), best first: index and score, 0 to 1.

    A tune is found itself, too, where it is in the collection. Tunes that have no stretch in common
    with it are not in the list, so that it may be shorter than `limit`; from `sameness.OFFERED` on
    they are taken for settings of it. `among`, of shape (tunes,): those that may be found.
    Of a melody of fewer than six notes nothing is found.
    """
    line = line_of(melody)
    if len(line.midi) <= INTERVALS or limit < 1:
        return []
    firsts = np.asarray(collection.firsts, dtype=np.int64)
    ends = np.append(firsts[1:], len(collection.midi))
    votes = _votes(collection, line, firsts) / np.sqrt(SHORTEST + ends - firsts)
    if among is not None:
        votes[~among] = 0.0
    wanted = min(MOST_COMPARED, max(COMPARED, 2 * limit))
    mine = sketch_of(line)
    found: list[tuple[int, float]] = []
    for tune in np.argsort(-votes, kind="stable")[:wanted].tolist():
        if not votes[tune]:
            break
        part = slice(int(firsts[tune]), int(ends[tune]))
        other = line_from_places(
            collection.midi[part],
            collection.onset[part],
            collection.length[part],
            collection.bar[part],
        )
        score = compare(mine, sketch_of(other)).score
        if score > 0:
            found.append((tune, score))
    return sorted(found, key=lambda each: (-each[1], each[0]))[:limit]


def _votes(
    collection: Collection, line: Line, firsts: npt.NDArray[np.int64]
) -> npt.NDArray[np.float64]:
    """What the runs of each tune that the line has, too, tell in all; shape (tunes,)."""
    midi = line.midi.tolist()
    intervals = [(after - before) % 12 for before, after in pairwise(midi)]
    last = len(intervals) - min(INTERVALS, DEPTH) + 1
    runs = sorted({tuple(intervals[k : k + INTERVALS]) for k in range(last)})
    stretches = [collection.stretch_of(run) for run in runs]
    places = [collection.order[low:high] for low, high in stretches if 0 < high - low <= COMMON]
    if not places:
        return np.zeros(len(firsts))
    tunes = np.searchsorted(firsts, np.concatenate(places), side="right") - 1
    # A tune counts once for a run, however often it has it.
    run = np.repeat(np.arange(len(places)), [len(each) for each in places])
    pairs = np.unique(run * len(firsts) + tunes)
    run, tunes = pairs // len(firsts), pairs % len(firsts)
    telling = np.log((1 + len(firsts)) / np.bincount(run))
    return np.bincount(tunes, telling[run], len(firsts)).astype(np.float64)
