"""The search for the cheapest set of breaths: many trials of one tune, so it has to be quick.

A set of places costs

* what its places cost (`places.py`), each `RHYME` times as much where a place with the same
  position in its four-bar phrase is taken too;
* `CROWDED` for each two breaths that come less than a bar apart;
* `TROUBLE` for each note that ends beyond `most_litres`, and for each litre beyond;
* `DISCOMFORT` for each litre and second beyond `comfortable_litres`.

First only natural places are offered: ends of parts and phrases, and long notes. If they do not
help every note in trouble, the gaps between other notes are offered too, and if these do not,
notes that can be dropped. The first note in trouble is helped by the place that does most for
what it costs, then the next, until none is left that can be helped. Then places are taken out,
or exchanged, one for one, one for several or two for one, as long as that makes the whole
cheaper. This is local search, not a proof: the tests say how near to the true least it comes on
short tunes.

Public: `Trials`, `best_places`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from itertools import combinations, pairwise
from math import inf

import numpy as np
from numpy.typing import NDArray

from reedwright.tab.breath.account import LITTLE, parts_of
from reedwright.tab.breath.airline import AirLine
from reedwright.tab.breath.model import BreathReason
from reedwright.tab.breath.places import PART_COST, Place, Places

TROUBLE = 100.0
DISCOMFORT = 0.1
RHYME = 0.8
CROWDED = 2.0

MOST_TRIED = 10  # places that are tried for one note in trouble
_ROUNDS = 3
_REFILLED = 2  # places that are exchanged for several others
_CLOSE_BY = 6  # sounds
_ALL_PAIRS = 5
_CHEAPEST = PART_COST
_NATURAL = (BreathReason.PART_END, BreathReason.PHRASE_END, BreathReason.LONG_NOTE)


Levels = NDArray[np.float64]


class Trials:
    """One tune at one speed, ready to be tried with different breaths."""

    def __init__(self, line: AirLine, speed: float, given: dict[int, bool]) -> None:
        self.lungs = lungs = line.lungs
        self.lengths = [sound.seconds / speed for sound in line.sounds]
        self.gaps = [sound.gap / speed for sound in line.sounds]
        self.rates = [sound.rate for sound in line.sounds]
        self.air = [r * s for r, s in zip(self.rates, self.lengths, strict=True)]
        self.rest = [gap * lungs.rest_rate for gap in self.gaps]
        self.ends = [sound.onset + sound.length for sound in line.sounds]
        self.bar = float(max((p.bar.length for p in line.performance.bars), default=0))
        self.given = given
        self.known: dict[tuple[int, ...], _Set] = {}  # of one set of offered places
        self._rests = [k for k, rest in enumerate(self.rest) if rest]
        self._sums_array = np.cumsum(np.array(self.air, np.float64))
        self._sums: list[float] = self._sums_array.tolist()
        self._lengths_array = np.array(self.lengths, np.float64)

    def run(self, taken: dict[int, bool]) -> Levels:
        """The level at the end of every sound.

        Between two breaths or rests it follows the air that the notes move; only there it is
        worked out one by one, which makes a trial quick.
        """
        cuts = sorted({*self._rests, *taken}) if taken else self._rests
        sums = self._sums
        offsets: list[float] = []
        marked: list[tuple[int, float]] = []
        offset = 0.0
        for k in cuts:
            offsets.append(offset)
            level, rest = sums[k] + offset, self.rest[k]
            if k in taken:
                air, rest = self._with_breath(k, taken[k])
                level += air - self.air[k]
                marked.append((k, level))
            level = max(level - rest, 0.0) if level > 0.0 else min(level + rest, 0.0)
            offset = level - sums[k]
        offsets.append(offset)
        spans = np.diff([-1, *cuts, len(sums) - 1])
        ends: Levels = self._sums_array + np.repeat(offsets, spans)
        for k, level in marked:
            ends[k] = level
        return ends

    def unease(self, ends: Levels, stop: int | None = None) -> float:
        """What trouble and discomfort cost, up to a sound (all of it without)."""
        height = np.abs(ends[:stop])
        beyond = np.maximum(height - self.lungs.comfortable_litres, 0.0)
        discomfort = float(beyond @ self._lengths_array[: len(height)])
        if not discomfort:
            return 0.0
        most = self.lungs.most_litres + LITTLE
        over = height[height > most]
        return TROUBLE * (len(over) + float((over - most).sum())) + DISCOMFORT * discomfort

    def crowded(self, taken: Collection[int]) -> int:
        """How many breaths come less than a bar after the one before."""
        order = sorted(taken)
        return sum(self.ends[b] - self.ends[a] < self.bar - LITTLE for a, b in pairwise(order))

    def _with_breath(self, k: int, dropped: bool) -> tuple[float, float]:
        """What the sound moves, and how far the breath and rest after it lead back."""
        sounding, breath, pause = parts_of(self.lengths[k], self.gaps[k], self.lungs, dropped)
        back = breath * self.lungs.breath_rate + pause * self.lungs.rest_rate
        return self.rates[k] * sounding, back

    def gain(self, k: int, dropped: bool, level: float) -> float:
        """How many litres nearer to the middle a breath leads at this sound."""
        air, rest = self._with_breath(k, dropped)
        before = level - self.air[k]
        after = abs(before + air)
        plain = max(abs(level) - self.rest[k], 0.0)
        return plain - max(after - rest, 0.0)


class _Set:
    """A set of places with its whole cost; `unease` is what trouble and discomfort cost.

    `chosen`: indices of the places, in order.
    """

    def __init__(self, trials: Trials, places: Sequence[Place], chosen: tuple[int, ...]) -> None:
        self.chosen = chosen
        taken = dict(trials.given)
        for p in chosen:
            taken |= dict.fromkeys(places[p].sounds, places[p].dropped)
        self.ends = trials.run(taken)
        self.unease = trials.unease(self.ends)
        self.troubled = self.unease >= TROUBLE
        self.cost = self.unease + CROWDED * trials.crowded(taken)
        rhymes = Counter(places[p].rhyme for p in chosen)
        for p in chosen:
            again = rhymes[places[p].rhyme] > 1
            self.cost += places[p].cost * (RHYME if again else 1.0)


def best_places(
    trials: Trials, places: Places, preferred: Collection[tuple[str, bool]] = ()
) -> list[Place]:
    """The places to breathe at, in the order of playing.

    `preferred` names places by note id and whether the note is dropped. These are free, and so
    are taken wherever they do no harm.
    """
    after = places.after_notes()
    kept = {id_ for id_, _ in preferred}
    natural = [p for p in after if p.reason in _NATURAL or p.note_id in kept]
    found = _best_of(trials, natural, (), preferred)
    best = [natural[p] for p in found.chosen]
    if found.troubled and len(after) > len(natural):
        found = _best_of(trials, after, best, preferred)
        best = [after[p] for p in found.chosen]
    if found.troubled:
        everything = [*after, *places.through_notes()]
        found = _best_of(trials, everything, best, preferred)
        best = [everything[p] for p in found.chosen]
    return sorted(best, key=lambda place: place.sounds)


def _best_of(
    trials: Trials,
    offered: Sequence[Place],
    start: Sequence[Place],
    preferred: Collection[tuple[str, bool]],
) -> _Set:
    wanted = [
        p
        for p, place in enumerate(offered)
        if place in start or (place.note_id, place.dropped) in preferred
    ]
    priced = [
        place._replace(cost=0.0) if (place.note_id, place.dropped) in preferred else place
        for place in offered
    ]
    trials.known.clear()
    best = _helped(trials, priced, _tried(trials, priced, tuple(wanted)))
    for _ in range(_ROUNDS):
        before = best.cost
        best = _thinned(trials, priced, best)
        best = _exchanged(trials, priced, best)
        best = _refilled(trials, priced, best)
        best = _merged(trials, priced, best)
        best = _eased(trials, priced, best)
        if best.cost >= before - LITTLE:
            break
    return best


def _tried(trials: Trials, places: Sequence[Place], chosen: Sequence[int]) -> _Set:
    """This set of places; the same one is worked out once only."""
    key = tuple(sorted(chosen))
    found = trials.known.get(key)
    if found is None:
        found = trials.known[key] = _Set(trials, places, key)
    return found


def _helped(trials: Trials, places: Sequence[Place], best: _Set, below: float = inf) -> _Set:
    """Places added until no note is in trouble that can be helped.

    `below`: only places that cost less. A place is judged by what it does up to the end of the
    trouble that it is to help: what it brings about later is for the next place to help.
    """
    most = trials.lungs.most_litres + LITTLE
    hopeless = -1
    now = best
    while now.troubled:
        troubled = np.flatnonzero(np.abs(now.ends[hopeless + 1 :]) > most)
        if not len(troubled):
            break
        trouble = int(troubled[0]) + hopeless + 1
        side = 1.0 if now.ends[trouble] > 0 else -1.0
        stop = trouble
        while stop < len(now.ends) and side * now.ends[stop] > most:
            stop += 1
        better, most_worth = now, 0.0
        unease = trials.unease(now.ends, stop)
        for p in _helpers(trials, places, now, trouble, below):
            trial = _tried(trials, places, (*now.chosen, p))
            eased = unease - trials.unease(trial.ends, stop)
            added = max(trial.cost - trial.unease - now.cost + now.unease, LITTLE)
            if eased > added and eased / added > most_worth:
                better, most_worth = trial, eased / added
        if better is now:
            hopeless = stop - 1
        now = better
        if now.cost < best.cost:
            best = now
    return best


def _helpers(
    trials: Trials, places: Sequence[Place], best: _Set, trouble: int, below: float
) -> list[int]:
    """The most promising places before a note in trouble."""
    full = best.ends[trouble] > 0
    clash = {places[p].note_id for p in best.chosen}
    ranked: list[tuple[float, int]] = []
    for p, place in enumerate(places):
        if place.note_id in clash or place.cost >= below:
            continue
        gain = 0.0
        for k in place.sounds:
            if k < trouble or (k == trouble and place.dropped):
                level = best.ends[k]
                if (level > 0) == full:
                    gain = max(gain, trials.gain(k, place.dropped, level))
        if gain > LITTLE:
            ranked.append((place.cost / gain, p))
    ranked.sort()
    return [p for _, p in ranked[:MOST_TRIED]]


def _thinned(trials: Trials, places: Sequence[Place], best: _Set) -> _Set:
    """Without the places that are not needed, the least natural tried first."""
    for p in sorted(best.chosen, key=lambda p: (-places[p].cost, p)):
        trial = _tried(trials, places, tuple(q for q in best.chosen if q != p))
        if trial.cost < best.cost - LITTLE:
            best = trial
    return best


def _exchanged(trials: Trials, places: Sequence[Place], best: _Set) -> _Set:
    """Each place exchanged for a cheaper one, or one that rhymes, where the whole gets cheaper."""
    for p in sorted(best.chosen, key=lambda p: (-places[p].cost, p)):
        others = tuple(q for q in best.chosen if q != p)
        clash = {places[q].note_id for q in others}
        rhymes = {places[q].rhyme for q in others}
        options = [
            (place.cost * (RHYME if place.rhyme in rhymes else 1.0), q)
            for q, place in enumerate(places)
            if q != p and place.note_id not in clash
        ]
        worth = places[p].cost
        ready = sorted(option for option in options if option[0] <= worth)[:MOST_TRIED]
        for _, q in ready:
            trial = _tried(trials, places, (*others, q))
            if trial.cost < best.cost - LITTLE:
                best = trial
    return best


def _refilled(trials: Trials, places: Sequence[Place], best: _Set) -> _Set:
    """The dearest places exchanged for as many cheaper ones as it takes."""
    for p in sorted(best.chosen, key=lambda p: (-places[p].cost, p))[:_REFILLED]:
        if places[p].cost < 2 * _CHEAPEST or p not in best.chosen:
            continue
        without = _tried(trials, places, tuple(q for q in best.chosen if q != p))
        trial = _thinned(trials, places, _helped(trials, places, without, places[p].cost))
        if trial.cost < best.cost - LITTLE:
            best = trial
    return best


def _merged(trials: Trials, places: Sequence[Place], best: _Set) -> _Set:
    """Two places exchanged for one from between them or close by.

    All twos of a few places, else only neighbours.
    """
    order = sorted(best.chosen, key=lambda p: places[p].sounds)
    few = len(order) <= _ALL_PAIRS
    for one, two in combinations(order, 2) if few else pairwise(order):
        if one not in best.chosen or two not in best.chosen:
            continue
        others = tuple(q for q in best.chosen if q not in (one, two))
        clash = {places[q].note_id for q in others}
        first, last = places[one].sounds[0], places[two].sounds[0]
        ready = sorted(
            (place.cost, q)
            for q, place in enumerate(places)
            if q not in (one, two)
            and place.note_id not in clash
            and first - _CLOSE_BY <= place.sounds[0] <= last + _CLOSE_BY
            and place.cost < places[one].cost + places[two].cost
        )
        for _, q in ready[:MOST_TRIED]:
            trial = _tried(trials, places, (*others, q))
            if trial.cost < best.cost - LITTLE:
                best = trial
    return best


def _eased(trials: Trials, places: Sequence[Place], best: _Set) -> _Set:
    """A natural place more, where comfort is worth it."""
    comfortable = trials.lungs.comfortable_litres
    while np.abs(best.ends).max(initial=0.0) > comfortable:
        clash = {places[p].note_id for p in best.chosen}
        ranked = [
            (place.cost, p)
            for p, place in enumerate(places)
            if place.note_id not in clash
            and any(abs(best.ends[k]) > comfortable / 2 for k in place.sounds)
        ]
        better = best
        for _, p in sorted(ranked)[: MOST_TRIED // 2]:
            trial = _tried(trials, places, (*best.chosen, p))
            if trial.cost < better.cost - LITTLE:
                better = trial
        if better is best:
            break
        best = better
    return best
