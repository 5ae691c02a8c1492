"""Whether two tunes are settings of the same tune.

Public: `compare`, `Sameness`, `Stretch`, `OFFERED`.

The rule
--------
1. Runs of intervals that both have (`grams`) say how one lies to the other: how many semitones
   higher, how many times as long its notes, and by how much time later. The commonest
   such move is taken, and all lags that occur with it.
2. At each lag every slot of the one (`once`) is laid on a slot of the other. It agrees by the
   cosine of what sounds in both. Agreement above `EVEN` speaks for sameness, below it against; a
   slot in which neither goes to another note counts for less, as it can't help agreeing.
3. The stretch of slots, at one lag, that speaks for sameness the most is taken, then the next of
   what is left, and so on. Each costs `APART` (less where it lies nearly as another one does), so
   that chance likenesses of a few notes count for nothing. So parts may stand in any order, and
   an upbeat, an ending or a repeat written out does not matter.
4. `evidence` is what all stretches say; `share` is that as a part of what it would be if all
   of the shorter tune were in the other note by note. The score takes both into account, and
   whether both end on the same note of their keys.

The sum of stretches follows the local alignment of sequences in biology (T. Smith and M. Waterman,
"Identification of common molecular subsequences", 1981), on lags in place of gaps.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, log2
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.grams import Grams
from reedwright.tune.likeness.once import SAMPLES
from reedwright.tune.likeness.sketches import Sketch, heard_of

EVEN = 0.5  # agreement that speaks neither for nor against, in tunes of usual variety
USUAL_CHANCE = 0.2  # agreement of any place of such a tune with any of another
BY_CHANCE = 0.8  # how much more agreement is asked of tunes in which it is higher
HELD = 0.3  # the weight of a slot in which nothing moves
APART = 3.0  # of evidence, for each stretch
GOING_ON = 1.5  # the same, for one that lies nearly at the lag of another
NEARLY = 4 * SAMPLES  # quarters of a slot
MOST_LAGS = 16
MOST_STRETCHES = 6
MOST_DOUBLINGS = 2
MOVES = 2  # ways in which one may lie to the other that are tried
HOPELESS = 4  # times fewer runs than the commonest way has: not tried
ENOUGH = 5.0  # evidence at which the share counts for 63 %, as 1 - 1/e
OTHER_END = 0.9  # the score's factor where the tunes end on different notes of their keys
OFFERED = 0.4
"""Score from which two tunes are taken for settings of one tune (docs/settings-of-a-tune.md)."""

_GONE = -1e3
_RATIOS = 2 * MOST_DOUBLINGS + 1
# Which pitch class each one comes from, so many semitones higher.
_TURNED = (np.arange(12) - np.arange(12)[:, None]) % 12

Floats = npt.NDArray[np.float32]
Ints = npt.NDArray[np.int64]


class Stretch(NamedTuple):
    """Slots `first` to `last` (not itself) of the one tune, which lie on those of the other that
    begin `lag` quarters of a slot later; `agreement` 0 to 1."""

    first: int
    last: int
    lag: int
    agreement: float


@dataclass(frozen=True, slots=True)
class Sameness:
    """How far two tunes are the same; see the module for `score`, `evidence` and `share`.

    `semitones`: how much higher the second one lies; `doublings`: how many times its notes are
    twice as long. `covered`: the share of each that lies in the stretches. `ends_alike`: both end
    on the same note of their keys.
    """

    score: float
    evidence: float
    share: float
    semitones: int
    doublings: int
    covered: tuple[float, float]
    stretches: tuple[Stretch, ...]
    ends_alike: bool


NOTHING = Sameness(0.0, 0.0, 0.0, 0, 0, (0.0, 0.0), (), False)


class _Shared(NamedTuple):
    """Runs that both have, by their places among the runs of each."""

    ours: Ints
    theirs: Ints


def _shared(ours: Grams, theirs: Grams) -> _Shared:
    low = np.searchsorted(theirs.codes, ours.codes, "left")
    count = np.searchsorted(theirs.codes, ours.codes, "right") - low
    mine = np.repeat(np.arange(len(count)), count)
    before = np.repeat(np.cumsum(count) - count, count)
    return _Shared(mine, np.repeat(low, count) + np.arange(len(mine)) - before)


def compare(ours: Sketch, theirs: Sketch) -> Sameness:
    """How far two tunes are the same."""
    shared = _shared(ours.grams, theirs.grams)
    mine, yours = shared
    if not len(mine):
        return NOTHING
    up = theirs.grams.midi[yours].astype(np.int64) - ours.grams.midi[mine]
    ratio = np.rint(np.log2(theirs.grams.span[yours] / ours.grams.span[mine])).astype(np.int64)
    keys = up % 12 * _RATIOS + np.clip(ratio + MOST_DOUBLINGS, 0, _RATIOS - 1)
    votes = np.bincount(keys, minlength=12 * _RATIOS)
    best = NOTHING
    for key in np.argsort(-votes, kind="stable")[:MOVES].tolist():
        if votes[key] * HOPELESS <= votes.max():
            break
        chosen = keys == key
        part = _Shared(mine[chosen], yours[chosen])
        semitones = round(float(np.median(up[chosen])))
        found = _laid(ours, theirs, part, semitones, key % _RATIOS - MOST_DOUBLINGS)
        if found.evidence > best.evidence:
            best = found
    return best


def _laid(
    ours: Sketch, theirs: Sketch, shared: _Shared, semitones: int, doublings: int
) -> Sameness:
    # Slots of the other tune last as long, once its notes are brought to the lengths of this one.
    apart = doublings + round(log2(ours.unit / theirs.unit))
    here, there = heard_of(ours), heard_of(theirs, apart)
    mine = here.sounding[::SAMPLES][:, _TURNED[semitones % 12]]
    moving = here.moving[::SAMPLES]
    lags = _lags(ours, theirs, shared, there.unit)
    count, size = len(mine), len(there.sounding)
    places = SAMPLES * np.arange(count) + lags[:, None]
    inside = (places >= 0) & (places < size)
    within = np.where(inside, places, 0)
    even = _even(mine, there.sounding)
    agreement = np.einsum("nk,lnk->ln", mine, there.sounding[within])
    weights = np.where(moving | there.moving[within], np.float32(1), np.float32(HELD))
    speaking = np.where(inside, (agreement - np.float32(even)) * weights, np.float32(_GONE))
    evidence, stretches = _stretches(speaking, agreement, places, lags)
    if not stretches:
        return NOTHING
    shorter = min(_all_of(moving, even), _all_of(there.moving[::SAMPLES], even))
    share = min(1.0, evidence / shorter) if shorter > 0 else 0.0
    slots = sum(each.last - each.first for each in stretches)
    ends_alike = (int(theirs.line.midi[-1]) - int(ours.line.midi[-1]) - semitones) % 12 == 0
    sure = 1 - exp(-evidence / ENOUGH)
    return Sameness(
        share * sure * (1 if ends_alike else OTHER_END),
        evidence,
        share,
        semitones,
        doublings,
        (slots / count, min(1.0, slots * SAMPLES / size)),
        stretches,
        ends_alike,
    )


def _lags(ours: Sketch, theirs: Sketch, shared: _Shared, unit: float) -> Ints:
    """The lags at which most runs lie on each other, in quarters of a slot."""
    here = ours.grams.onset[shared.ours] / ours.unit
    there = theirs.grams.onset[shared.theirs] / unit
    lags, votes = np.unique(np.rint(SAMPLES * (there - here)).astype(np.int64), return_counts=True)
    return lags[np.argsort(-votes, kind="stable")[:MOST_LAGS]]


def _even(mine: Floats, theirs: Floats) -> float:
    """The agreement that speaks neither for nor against: the higher, the more any place of the one
    agrees with any place of the other, as with tunes of three notes it does."""
    by_chance = float(mine.mean(axis=0) @ theirs.mean(axis=0))
    return EVEN + BY_CHANCE * max(0.0, by_chance - USUAL_CHANCE)


def _all_of(moving: npt.NDArray[np.bool_], even: float) -> float:
    """The evidence of a tune laid on itself."""
    moves = int(moving.sum())
    return (1 - even) * (moves + HELD * (len(moving) - moves)) - APART


def _stretches(
    speaking: Floats, agreement: Floats, places: Ints, lags: Ints
) -> tuple[float, tuple[Stretch, ...]]:
    """The stretches that say the most, one after the other, and what they say in all."""
    count = speaking.shape[1]
    evidence = 0.0
    found: list[Stretch] = []
    sums = np.zeros((len(lags), count + 1), dtype=np.float64)
    costs = np.full(len(lags), APART)
    for _ in range(MOST_STRETCHES):
        np.cumsum(speaking, axis=1, out=sums[:, 1:])
        gains = sums[:, 1:] - np.minimum.accumulate(sums[:, :-1], axis=1) - costs[:, None]
        lag, end = divmod(int(np.argmax(gains)), count)
        if gains[lag, end] <= 0:
            break
        evidence += float(gains[lag, end])
        first = int(np.argmin(sums[lag, : end + 1]))
        agreed = float(agreement[lag, first : end + 1].mean())
        found.append(Stretch(first, end + 1, int(lags[lag]), agreed))
        speaking[:, first : end + 1] = _GONE
        taken = (places >= places[lag, first]) & (places <= places[lag, end])
        speaking[taken] = _GONE
        costs[np.abs(lags - lags[lag]) <= NEARLY] = GOING_ON
    return evidence, tuple(found)
