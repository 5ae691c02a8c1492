"""Whether two tunes are settings of the same tune.

Public: `Sketch`, `sketch_of`, `compare`, `Sameness`.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from reedwright.tune.likeness.grams import Grams, grams
from reedwright.tune.likeness.once import Line, slot_at, slots, usual_unit

WINDOW = 24
FITTING = 0.7
MOST_LAGS = 32


@dataclass(frozen=True, slots=True, eq=False)
class Sketch:
    line: Line
    unit: float
    slots: npt.NDArray[np.float32]
    grams: Grams


@dataclass(frozen=True, slots=True)
class Sameness:
    score: float
    semitones: int
    doublings: int
    covered: tuple[float, float]
    agreement: float


NOTHING = Sameness(0.0, 0, 0, (0.0, 0.0), 0.0)


def sketch_of(line: Line) -> Sketch:
    unit = usual_unit(line)
    return Sketch(line, unit, slots(line, unit), grams(line))


def compare(a: Sketch, b: Sketch) -> Sameness:
    ga, gb = a.grams, b.grams
    low = np.searchsorted(gb.codes, ga.codes, "left")
    high = np.searchsorted(gb.codes, ga.codes, "right")
    count = high - low
    total = int(count.sum())
    if not total:
        return NOTHING
    ia = np.repeat(np.arange(len(count)), count)
    ib = np.repeat(low, count) + np.arange(total) - np.repeat(np.cumsum(count) - count, count)
    shift = (gb.midi[ib] - ga.midi[ia]) % 12
    ratio = np.round(np.log2(gb.span[ib] / ga.span[ia])).astype(np.int64)
    ratio = np.clip(ratio, -3, 3)
    key = shift * 7 + ratio + 3
    best = int(np.argmax(np.bincount(key)))
    chosen = key == best
    semitones, doublings = best // 7, best % 7 - 3
    unit_b = a.unit * 2.0**doublings
    sa = a.slots
    sb = b.slots if unit_b == b.unit else slots(b.line, unit_b)
    sb = np.roll(sb, -semitones, axis=1)
    lags = slot_at(b.line, unit_b, gb.onset[ib[chosen]]) - slot_at(
        a.line, a.unit, ga.onset[ia[chosen]]
    )
    lag, votes = np.unique(lags, return_counts=True)
    lag = lag[np.argsort(-votes, kind="stable")[:MOST_LAGS]]
    n, m = len(sa), len(sb)
    window = min(WINDOW, n, m)
    place = np.arange(n)[None] + lag[:, None]
    inside = (place >= 0) & (place < m)
    agree = np.einsum("nk,lnk->ln", sa, sb[np.clip(place, 0, m - 1)])
    agree[~inside] = -1.0
    sums = np.zeros((len(lag), n + 1), dtype=np.float32)
    np.cumsum(agree, axis=1, out=sums[:, 1:])
    means = (sums[:, window:] - sums[:, :-window]) / window  # (lags, n-window+1)
    good = means >= FITTING
    # slots covered by a good window
    edge = np.zeros((len(lag), n + 1), dtype=np.int32)
    edge[:, : good.shape[1]] += good
    edge[:, window : window + good.shape[1]] -= good
    over = np.cumsum(edge, axis=1)[:, :n] > 0
    cover_a = over.any(axis=0)
    cover_b = np.zeros(m, dtype=bool)
    cover_b[place[over & inside]] = True
    ca, cb = float(cover_a.mean()), float(cover_b.mean())
    agreement = float(np.where(over, agree, -1).max(axis=0)[cover_a].mean()) if ca else 0.0
    return Sameness(max(ca, cb) * agreement, semitones, doublings, (ca, cb), agreement)
