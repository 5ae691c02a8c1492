"""Which of many tunes may be settings of a tune: those that share the most of its runs.

Public: `Pool`, `pool_of`, `nearest`.

A run counts by how few tunes have it (the logarithm, as is common in searching texts: K. Spärck
Jones, "A statistical interpretation of term specificity", Journal of Documentation 28, 1972), and
a long tune's runs count for less, as more of them are there by chance.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.grams import CODES

SHORTEST = 20  # runs: that a short tune has few must not raise it above all others
COMMON = 1_000  # tunes: a run that so many have is not asked for ...
COMMON_SHARE = 0.04  # ... nor one that this share of all have, where that is more

Ints = npt.NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Pool:
    """Which tunes have which run. `tunes` of shape (runs of all,) holds the tunes' places, those of
    run `code` at `starts[code]` to `starts[code + 1]`; `counts` of shape (tunes,) says how many
    runs each has."""

    starts: Ints
    tunes: npt.NDArray[np.int32]
    counts: Ints


def pool_of(codes: npt.NDArray[np.uint32], counts: npt.NDArray[np.integer]) -> Pool:
    """The pool of tunes whose runs stand in `codes`, one tune after the other, `counts` of each.
    A tune has each of its runs once."""
    order = np.argsort(codes, kind="stable")
    owners = np.repeat(np.arange(len(counts), dtype=np.int32), counts)
    starts = np.zeros(CODES + 1, dtype=np.int64)
    np.cumsum(np.bincount(codes, minlength=CODES), out=starts[1:])
    return Pool(starts, owners[order], np.asarray(counts, dtype=np.int64))


def nearest(pool: Pool, codes: npt.NDArray[np.uint32], most: int) -> list[int]:
    """At most so many tunes of the pool that share runs with `codes`, the likeliest first.

    A tune is found itself, too, where it is in the pool.
    """
    total = len(pool.counts)
    begin, end = pool.starts[codes], pool.starts[codes.astype(np.int64) + 1]
    having = end - begin
    asked = np.flatnonzero((having > 0) & (having <= max(COMMON, COMMON_SHARE * total)))
    if not len(asked) or most < 1:
        return []
    found = np.concatenate([pool.tunes[begin[k] : end[k]] for k in asked.tolist()])
    telling = np.repeat(np.log((1 + total) / having[asked]), having[asked])
    votes = np.bincount(found, telling, total) / np.sqrt(SHORTEST + pool.counts)
    best = np.argpartition(-votes, most)[:most] if most < total else np.arange(total)
    best = best[votes[best] > 0]
    return [int(tune) for tune in best[np.argsort(-votes[best], kind="stable")]]
