"""From what every layout does to every tune to the layouts that are worth telling.

Three things count for a layout: tunes playable with no bends, mean effort, and how much of what
the hands know is changed. They do not add up, so none is weighed against another: the best by
each of the first two are told, and the frontier of all that no other layout beats in reeds
changed, effort and `relearned` at once.

Among equals: fewer reeds, then more tunes with no bends, less to relearn, fewer semitones moved
in all, and then the order of the layouts as they were given.

Public: `Rows`, `Scores`, `scores_of`, `joined`, `relearned_share`, `by_effort`, `by_plain`,
`earning`, `frontier`, `found`.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from reedwright.harp.model import Reed
from reedwright.tab.effort import SCALE
from reedwright.workshop.search.model import Found, Layout, Score

Counts = NDArray[np.int64]
Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]


class Rows(Protocol):
    """What every layout does to every tune; shape (tunes, layouts).

    `missing`: notes; `units`: effort in 1/1024; `plain`: playable with no bends and nothing
    missing. `played`, shape (tunes,): notes played, to share effort out.
    """

    @property
    def missing(self) -> NDArray[Any]: ...
    @property
    def units(self) -> NDArray[Any]: ...
    @property
    def plain(self) -> NDArray[Any]: ...
    @property
    def played(self) -> NDArray[Any]: ...


@dataclass(frozen=True, slots=True)
class Scores:
    """The layouts with what `Score` says of each, as arrays of shape (layouts,).

    `reeds`: how many each changes; `semitones`: moved in all, up and down alike. `tunes`, shape
    (tunes, layouts): which are playable with no bends.
    """

    layouts: tuple[Layout, ...]
    reeds: Counts
    plain: Counts
    playable: Counts
    effort: Floats
    relearned: Floats
    semitones: Counts
    tunes: Flags

    def score(self, index: int) -> Score:
        return Score(
            int(self.plain[index]),
            int(self.playable[index]),
            float(self.effort[index]),
            float(self.relearned[index]),
        )


def scores_of(rows: Rows, layouts: Sequence[Layout], usage: Mapping[Reed, int]) -> Scores:
    """The scores of layouts, in their order.

    `usage`: how many notes the repertoire plays today on each reed. The mean of the effort is
    summed up tune by tune in their order, so that it is the same to the last bit wherever and
    in whatever pieces the tunes were solved.
    """
    effort = np.zeros(len(layouts))
    for units, played in zip(rows.units, rows.played, strict=True):
        effort += units / (SCALE * max(int(played), 1))
    tunes = np.asarray(rows.plain, np.bool_)
    return Scores(
        tuple(layouts),
        np.array([len(layout) for layout in layouts], np.int64),
        tunes.sum(axis=0, dtype=np.int64),
        (np.asarray(rows.missing) == 0).sum(axis=0, dtype=np.int64),
        effort / max(len(tunes), 1),
        np.array([relearned_share(layout, usage) for layout in layouts]),
        np.array([sum(abs(by) for _, by in layout) for layout in layouts], np.int64),
        tunes,
    )


def joined(parts: Iterable[Scores]) -> Scores:
    """Scores of several sets of layouts, over the same tunes, as one."""
    each = list(parts)
    return Scores(
        tuple(layout for part in each for layout in part.layouts),
        np.concatenate([part.reeds for part in each]),
        np.concatenate([part.plain for part in each]),
        np.concatenate([part.playable for part in each]),
        np.concatenate([part.effort for part in each]),
        np.concatenate([part.relearned for part in each]),
        np.concatenate([part.semitones for part in each]),
        np.concatenate([part.tunes for part in each], axis=1),
    )


def relearned_share(layout: Layout, usage: Mapping[Reed, int]) -> float:
    """The share of the notes played today whose reed the layout changes, 0 to 1."""
    total = sum(usage.values())
    return sum(usage.get(reed, 0) for reed, _ in layout) / total if total else 0.0


def by_effort(scores: Scores, reeds: int) -> Counts:
    """Indexes of the layouts with that many reeds changed, least effort first."""
    return _ordered(scores, scores.reeds == reeds, (scores.effort,))


def by_plain(scores: Scores, reeds: int) -> Counts:
    """The same by tunes playable with no bends, most first; then by effort."""
    return _ordered(scores, scores.reeds == reeds, (-scores.plain, scores.effort))


def earning(scores: Scores, indexes: Counts) -> Flags:
    """Which of these layouts are worth telling: with any one of the changes left out, effort is
    greater or fewer tunes need no bends. So nothing is told that has a reed too many."""
    place = {layout: index for index, layout in enumerate(scores.layouts)}
    effort, plain = scores.effort, scores.plain

    def worth(index: int) -> bool:
        layout = scores.layouts[index]
        for left in range(len(layout)):
            fewer = place.get(layout[:left] + layout[left + 1 :])
            if fewer is not None and (
                effort[fewer] <= effort[index] and plain[fewer] >= plain[index]
            ):
                return False
        return True

    return np.array([worth(index) for index in indexes.tolist()], np.bool_)


def frontier(scores: Scores) -> Counts:
    """Indexes of the layouts that no other beats, by reeds changed and then effort.

    One beats another that is nowhere better: not in reeds changed, effort or share to relearn.
    Of equals in all three only the first is kept, in the order at the head of this file.
    """
    everything = np.ones(len(scores.layouts), np.bool_)
    kept: list[int] = []
    # What was kept so far as a staircase: effort growing, the share to relearn falling.
    efforts: list[float] = []
    shares: list[float] = []
    for index in _ordered(scores, everything, (scores.reeds, scores.effort, scores.relearned)):
        effort, share = float(scores.effort[index]), float(scores.relearned[index])
        place = bisect_right(efforts, effort)
        if place and shares[place - 1] <= share:
            continue
        kept.append(int(index))
        end = place
        while end < len(shares) and shares[end] >= share:
            end += 1
        efforts[place:end] = [effort]
        shares[place:end] = [share]
    return np.array(kept, np.int64)


def found(scores: Scores, index: int, base: Flags) -> Found:
    """One layout to tell of. `base`: which tunes are playable with no bends as things are."""
    mine = scores.tunes[:, index]
    won, lost = np.nonzero(mine & ~base)[0], np.nonzero(base & ~mine)[0]
    return Found(
        scores.layouts[index],
        scores.score(index),
        tuple(won.tolist()),
        tuple(lost.tolist()),
    )


def _ordered(scores: Scores, which: Flags, first: tuple[NDArray[Any], ...]) -> Counts:
    """The indexes of some layouts in order of the keys given, then as the head of the file says."""
    keys = (*first, scores.reeds, -scores.plain, scores.relearned, scores.semitones)
    chosen: Counts = np.nonzero(which)[0]
    return chosen[np.lexsort(tuple(key[chosen] for key in reversed(keys)))]
