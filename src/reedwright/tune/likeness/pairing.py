"""Which of many tunes may be settings of a tune: those that share the most of its runs.

Public: `Pool`, `pool_of`, `nearest`, `nearest_among`, `own_codes`.

A run counts by how few tunes have it (the logarithm, as is common in searching texts: K. Spärck
Jones, "A statistical interpretation of term specificity", Journal of Documentation 28, 1972), and
a long tune's runs count for less, as more of them are there by chance. What a tune comes to is
told as a share of what the tune that is asked for would come to itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.grams import CODES, Grams

SHORTEST = 20  # runs: that a short tune has few must not raise it above all others
COMMON = 1_000  # tunes: a run that so many have is not asked for ...
COMMON_SHARE = 0.04  # ... nor one that this share of all have, where that is more
MOST = 24  # tunes that are looked at closely
LEAST = 0.1  # share of the tune's own runs, from which on another one is looked at closely

Ints = npt.NDArray[np.int64]
Codes = npt.NDArray[np.uint32]


def own_codes(grams: Grams) -> Codes:
    """The codes of a tune's runs, each once, in order."""
    return np.unique(grams.codes)


@dataclass(frozen=True, slots=True, eq=False)
class Pool:
    """Which tunes have which run. `tunes` of shape (runs of all,) holds the tunes' places, those of
    run `code` at `starts[code]` to `starts[code + 1]`; `counts` of shape (tunes,) says how many
    runs each has."""

    starts: Ints
    tunes: npt.NDArray[np.int32]
    counts: Ints


def pool_of(codes: Codes, counts: npt.NDArray[np.integer]) -> Pool:
    """The pool of tunes whose runs stand in `codes`, one tune after the other, `counts` of each.
    A tune has each of its runs once."""
    order = np.argsort(codes, kind="stable")
    owners = np.repeat(np.arange(len(counts), dtype=np.int32), counts)
    starts = np.zeros(CODES + 1, dtype=np.int64)
    np.cumsum(np.bincount(codes, minlength=CODES), out=starts[1:])
    return Pool(starts, owners[order], np.asarray(counts, dtype=np.int64))


def nearest(pool: Pool, codes: Codes) -> list[int]:
    """At most `MOST` tunes of the pool that share runs with `codes`, the likeliest first.

    A tune is found itself, too, where it is in the pool.
    """
    begin, end = pool.starts[codes], pool.starts[codes.astype(np.int64) + 1]
    asked, telling = _asked(end - begin, len(pool.counts))
    if not len(asked):
        return []
    found = np.concatenate([pool.tunes[begin[k] : end[k]] for k in asked.tolist()])
    votes = np.bincount(found, np.repeat(telling, (end - begin)[asked]), len(pool.counts))
    return _best(votes, pool.counts, telling, len(codes))


def nearest_among(codes: Codes, counts: npt.NDArray[np.integer], wanted: Codes) -> list[int]:
    """As `nearest`, for one tune among all of `pool_of`'s, without a pool being made: less work
    for one, more for many."""
    having = np.bincount(codes, minlength=CODES)[wanted]
    asked, telling = _asked(having, len(counts))
    weights = np.zeros(CODES)
    weights[wanted[asked]] = telling
    here = np.flatnonzero(weights[codes])
    owners = np.repeat(np.arange(len(counts)), counts)[here]
    votes = np.bincount(owners, weights[codes[here]], len(counts))
    return _best(votes, np.asarray(counts, dtype=np.int64), telling, len(wanted))


def _asked(having: Ints, total: int) -> tuple[Ints, npt.NDArray[np.float64]]:
    """Which of the runs are asked for, and how much each tells."""
    asked = np.flatnonzero((having > 0) & (having <= max(COMMON, COMMON_SHARE * total)))
    return asked, np.log((1 + total) / having[asked])


def _best(
    votes: npt.NDArray[np.number], counts: Ints, telling: npt.NDArray[np.float64], own: int
) -> list[int]:
    shares = votes / np.sqrt(SHORTEST + counts)
    least = LEAST * float(telling.sum()) / np.sqrt(SHORTEST + own)
    best = np.argpartition(-shares, MOST)[:MOST] if len(shares) > MOST else np.arange(len(shares))
    best = best[(shares[best] >= least) & (shares[best] > 0)]
    return [int(tune) for tune in best[np.argsort(-shares[best], kind="stable")]]
