"""The search for the cheapest set of breaths: many trials of one tune, so it has to be quick.

A set of places costs

* what its places cost (`places.py`), each `RHYME` times as much where a place with the same
  position in its four-bar phrase is taken too;
* `TROUBLE` for each note that ends beyond `most_litres`, and for each litre beyond;
* `DISCOMFORT` for each litre and second beyond `comfortable_litres`.

The first note in trouble is helped by the place that makes the whole cheapest, then the next,
until none is left that can be helped. Then places are taken out or exchanged for others as
long as that makes the whole cheaper. This is local search, not a proof: the tests say how near to
the true least it comes on short tunes.

Public: `Trials`, `best_places`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

from reedwright.tab.breath.account import LITTLE, parts_of
from reedwright.tab.breath.airline import AirLine
from reedwright.tab.breath.places import Place

TROUBLE = 100.0
DISCOMFORT = 0.1
RHYME = 0.8

MOST_TRIED = 10  # places that are tried for one note in trouble
_ROUNDS = 3


class Trials:
    """One tune at one speed, ready to be tried with different breaths."""

    def __init__(self, line: AirLine, speed: float, given: dict[int, bool]) -> None:
        self.lungs = lungs = line.lungs
        self.lengths = [sound.seconds / speed for sound in line.sounds]
        self.gaps = [sound.gap / speed for sound in line.sounds]
        self.rates = [sound.rate for sound in line.sounds]
        self.air = [r * s for r, s in zip(self.rates, self.lengths, strict=True)]
        self.rest = [gap * lungs.rest_rate for gap in self.gaps]
        self.given = given
        self.tried = 0

    def run(self, taken: dict[int, bool]) -> tuple[list[float], float]:
        """The level at the end of every sound, and what trouble and discomfort cost."""
        self.tried += 1
        comfortable = self.lungs.comfortable_litres
        most = self.lungs.most_litres + LITTLE
        level = trouble = discomfort = 0.0
        ends: list[float] = []
        for k, air in enumerate(self.air):
            rest = self.rest[k]
            if k in taken:
                air, rest = self._with_breath(k, taken[k])
            level += air
            ends.append(level)
            if not -comfortable <= level <= comfortable:
                height = abs(level)
                discomfort += (height - comfortable) * self.lengths[k]
                if height > most:
                    trouble += 1.0 + height - most
            if rest:
                level = max(level - rest, 0.0) if level > 0.0 else min(level + rest, 0.0)
        return ends, TROUBLE * trouble + DISCOMFORT * discomfort

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
    """A set of places with its whole cost."""

    def __init__(self, trials: Trials, places: Sequence[Place], chosen: tuple[int, ...]) -> None:
        self.chosen = chosen
        taken = dict(trials.given)
        for p in chosen:
            taken |= dict.fromkeys(places[p].sounds, places[p].dropped)
        self.ends, cost = trials.run(taken)
        rhymes = Counter(places[p].rhyme for p in chosen)
        for p in chosen:
            again = rhymes[places[p].rhyme] > 1
            cost += places[p].cost * (RHYME if again else 1.0)
        self.cost = cost


def best_places(
    trials: Trials, places: Sequence[Place], preferred: Collection[str] = ()
) -> list[Place]:
    """The places to breathe at, in the order given. `preferred` note ids cost half."""
    offered = [
        place._replace(cost=place.cost / 2) if place.note_id in preferred else place
        for place in places
    ]
    best = _helped(trials, offered, _Set(trials, offered, ()))
    for _ in range(_ROUNDS):
        before = best.cost
        best = _thinned(trials, offered, best)
        best = _exchanged(trials, offered, best)
        best = _eased(trials, offered, best)
        if best.cost >= before - LITTLE:
            break
    return [places[p] for p in sorted(best.chosen)]


def _helped(trials: Trials, places: Sequence[Place], best: _Set) -> _Set:
    """Places added until no note is in trouble that can be helped."""
    most = trials.lungs.most_litres + LITTLE
    hopeless = -1
    while True:
        trouble = next(
            (k for k, end in enumerate(best.ends) if k > hopeless and abs(end) > most), None
        )
        if trouble is None:
            return best
        better = best
        for p in _helpers(trials, places, best, trouble):
            trial = _Set(trials, places, (*best.chosen, p))
            if trial.cost < better.cost - LITTLE:
                better = trial
        if better is best:
            hopeless = trouble
        best = better


def _helpers(trials: Trials, places: Sequence[Place], best: _Set, trouble: int) -> list[int]:
    """The most promising places before a note in trouble."""
    full = best.ends[trouble] > 0
    clash = {places[p].note_id for p in best.chosen}
    ranked: list[tuple[float, int]] = []
    for p, place in enumerate(places):
        if place.note_id in clash:
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
        trial = _Set(trials, places, tuple(q for q in best.chosen if q != p))
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
            trial = _Set(trials, places, (*others, q))
            if trial.cost < best.cost - LITTLE:
                best = trial
    return best


def _eased(trials: Trials, places: Sequence[Place], best: _Set) -> _Set:
    """A natural place more, where comfort is worth it."""
    comfortable = trials.lungs.comfortable_litres
    while max(map(abs, best.ends), default=0.0) > comfortable:
        clash = {places[p].note_id for p in best.chosen}
        ranked = [
            (place.cost, p)
            for p, place in enumerate(places)
            if place.note_id not in clash
            and any(abs(best.ends[k]) > comfortable / 2 for k in place.sounds)
        ]
        better = best
        for _, p in sorted(ranked)[: MOST_TRIED // 2]:
            trial = _Set(trials, places, (*best.chosen, p))
            if trial.cost < better.cost - LITTLE:
                better = trial
        if better is best:
            break
        best = better
    return best
