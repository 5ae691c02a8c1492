"""Tunes of a collection that are like a whole tune.

Public: `alike`.

The index of the collection names the tunes that share runs of intervals with it, the rarer
the run the more it counts; the best of these are compared with it note by note (`sameness`).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from reedwright.tune.likeness.collection import DEPTH, Collection
from reedwright.tune.likeness.melody import MelodyNote
from reedwright.tune.likeness.once import line_from_places, line_of
from reedwright.tune.likeness.sameness import compare
from reedwright.tune.likeness.sketches import sketch_of

COMPARED = 60  # tunes that are looked at closely
COMMON = 3_000  # places: a run that common tells nothing


def alike(
    collection: Collection, melody: Sequence[Sequence[MelodyNote]], limit: int
) -> list[tuple[int, float]]:
    """The tunes most like that melody (its strips), best first: index and score, 0 to 1.

    A tune is found itself, too, where it is in the collection. Tunes that share no notes in a row
    are not in the list, so that it may be shorter than `limit`.
    """
    line = line_of(melody)
    if len(line.midi) <= DEPTH or limit < 1:
        return []
    intervals = np.diff(line.midi.astype(np.int64)).tolist()
    runs = {
        tuple(each % 12 for each in intervals[k : k + DEPTH])
        for k in range(len(intervals) - DEPTH + 1)
    }
    firsts = np.array(collection.firsts)
    votes = np.zeros(len(firsts), dtype=np.float64)
    for run in sorted(runs):
        low, high = collection.stretch_of(run)
        if not 0 < high - low <= COMMON:
            continue
        tunes = np.unique(np.searchsorted(firsts, collection.order[low:high], "right") - 1)
        votes[tunes] += 1 / (3 + len(tunes))
    wanted = max(COMPARED, 2 * limit)
    best = np.argsort(-votes, kind="stable")[:wanted]
    mine = sketch_of(line)
    ends = [*collection.firsts[1:], len(collection.midi)]
    found: list[tuple[int, float]] = []
    for tune in best[votes[best] > 0].tolist():
        part = slice(collection.firsts[tune], ends[tune])
        other = line_from_places(
            collection.midi[part],
            collection.onset[part],
            collection.length[part],
            collection.bar[part],
        )
        found.append((tune, compare(mine, sketch_of(other)).score))
    return sorted(found, key=lambda each: (-each[1], each[0]))[:limit]
