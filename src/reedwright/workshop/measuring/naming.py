"""Which reed is which: hole and breath of each tone, by its pitch and by the order of the tones.

Pitch names most reeds. The order names the others: reeds of one note, and reeds so far off that
another is as near. Which order the player follows is learned from the tones themselves: every
usual order is tried with its likely slips (`orders`), and one that is learned from the moves of
this very row; each counts by how well it foretells the tones. See docs/reed-measuring.md.

Public: `name_reeds`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from reedwright.harp.model import Breath, Reed
from reedwright.workshop.measuring.courses import evidences, likely_states
from reedwright.workshop.measuring.model import Measurement, NamedTone, Tone
from reedwright.workshop.measuring.naming_pairs import name_pair
from reedwright.workshop.measuring.nearness import (
    STRAY_DENSITY,
    Places,
    cents_between,
    densities,
    places,
    whole_shift,
)
from reedwright.workshop.measuring.orders import SHUFFLED, Order, asked_orders, moves, usual_orders
from reedwright.workshop.measuring.pooling import measure_reeds
from reedwright.workshop.measuring.unisons import dealing_weight, dealings, unison_groups
from reedwright.workshop.targets.model import Targets

Array = npt.NDArray[np.float64]

COULD_BE = 0.1  # a reed at least so likely is named among the others
PLAIN = 0.9  # a tone at least so sure teaches the order
ITS_OWN = 0.3  # weight of an order that is learned from the row itself, against 1
EACH_OFTEN = 0.3  # weight of each reed being sounded several times, against once
MOSTLY = 0.9  # share of a tone's density that lies on unisons, to be dealt among them
AT_ALL = 1e-3  # of the likeliest reed's density: a second one could sound the tone at all
UNTAUGHT = 4.0  # how many moves' worth of not knowing it begins with


class _Scheme(NamedTuple):
    """Orders over the same states: `columns` the reed of each state, `prior` logarithms (S,)."""

    moves: Array
    columns: npt.NDArray[np.int64]
    prior: Array
    words: tuple[str, ...]


class _Reading(NamedTuple):
    """`likely`: of each reed for each tone (T, N). `names`: indices of reeds, -1 for no reed."""

    likely: Array
    names: list[int]
    words: str


def name_reeds(
    tones: Sequence[Tone],
    targets: Targets,
    order: str | None = None,
    at_bench: bool = True,
    before: Measurement | Mapping[Reed, float] | None = None,
    now: Targets | None = None,
) -> Measurement:
    """Name every tone's reed, or two of a pair, and measure the reeds.

    `targets` are of the harp as it is wanted. `now` are targets of the harp as it is where it is
    not converted yet, or half: a reed may lie at either note or between. `before` is an earlier
    measurement of this harp (or Hz by reed): it tells unisons apart. `order` in the user's words
    (`orders.asked_orders`); without it the order is learned. `at_bench`: cents count from the
    bench targets. Raises `OrderError` where the order is not understood.
    """
    harp = targets.harp
    asked = asked_orders(order, harp) if order else usual_orders(harp)
    among = places(targets, at_bench, now, _hz_before(before))
    heard = [hz for tone in tones for hz in (tone.hz, tone.upper_hz) if hz > 0]
    shift = whole_shift(heard, among)
    singles = [tone for tone in tones if tone.upper_hz <= 0]
    reading = _read(singles, among, shift, _schemes(asked, among), learn=order is None)
    rows = iter(zip(reading.names, reading.likely, strict=True))
    named: list[NamedTone] = []
    known = _known_places(singles, reading.names, among)
    for tone in tones:
        if tone.upper_hz > 0:
            named.append(name_pair(tone, among, shift, known))
            continue
        name, likely = next(rows)
        named.append(_named(tone, name, likely, among))
    return _measured(targets, tuple(named), at_bench, reading.words if singles else "")


def _read(
    tones: Sequence[Tone],
    among: Places,
    shift: float,
    schemes: Sequence[_Scheme],
    learn: bool,
) -> _Reading:
    number = len(among.reeds)
    if not tones:
        return _Reading(np.zeros((0, number)), [], "")
    near = densities([tone.hz for tone in tones], among, shift)
    first = _likely(near, schemes)[0]
    used = list(schemes)
    if learn:
        used.append(_its_own_order(first, among))
    fixed = near.copy()
    told: dict[int, Array] = {}
    names: dict[int, int] = {}
    for group in unison_groups(among):
        mine = _undecided(near, group)
        if not mine:
            continue
        ways, weights = _weighed(near, group, mine, tones)
        readings = np.repeat(near[None], len(ways), axis=0)
        for way, reading in zip(ways, readings, strict=True):
            _deal(reading, group, mine, way)
        chance = _chances(readings, weights, used)
        best = ways[int(np.argmax(chance))]
        _deal(fixed, group, mine, best)
        for place, k in enumerate(mine):
            told[k] = np.zeros(number)
            for way, much in zip(ways, chance, strict=True):
                told[k][group[way[place]]] += much
            names[k] = group[best[place]]
    likely, words = _likely(fixed, used)
    for k, row in told.items():
        likely[k] = row * likely[k].sum()
    chosen = []
    for k, row in enumerate(likely):
        reed = names.get(k, int(np.argmax(row)))
        chosen.append(reed if row.sum() > 0.5 else -1)
    return _Reading(likely, chosen, words)


def _schemes(orders: Sequence[Order], among: Places) -> list[_Scheme]:
    found = []
    usual = [order for order in orders if order.kinds]
    index = {reed: k for k, reed in enumerate(among.reeds)}
    if usual:
        each = [(o, r) for o in usual for r in (False, True) if not (r and SHUFFLED in o.kinds)]
        found.append(
            _Scheme(
                np.stack([moves(o, among.reeds, again) for o, again in each]),
                np.arange(len(among.reeds)),
                np.log([o.weight * (EACH_OFTEN if again else 1.0) for o, again in each]),
                tuple(o.words for o, _ in each),
            )
        )
    for order in orders:
        if not order.kinds:
            rest = tuple(reed for reed in among.reeds if reed not in order.reeds)
            states = (*order.reeds, *rest)
            found.append(
                _Scheme(
                    np.stack([moves(order, states, again) for again in (False, True)]),
                    np.array([index[reed] for reed in states]),
                    np.log([1.0, EACH_OFTEN]),
                    (order.words,) * 2,
                )
            )
    return found


def _its_own_order(likely: Array, among: Places) -> _Scheme:
    """An order of the row's own: moves seen elsewhere in it are likely (by hole and breath)."""
    reeds = among.reeds
    count = len(reeds)
    kinds: dict[tuple[int, Breath, Breath], int] = {}
    kind = np.zeros((count, count), dtype=int)
    for i, one in enumerate(reeds):
        for j, other in enumerate(reeds):
            what = (other.hole - one.hole, one.breath, other.breath)
            kind[i, j] = kinds.setdefault(what, len(kinds))
    plain = [int(np.argmax(row)) if row.max() >= PLAIN else -1 for row in likely]
    seen = [
        int(kind[one, other]) if one >= 0 and other >= 0 else -1 for one, other in pairwise(plain)
    ]
    tally = np.bincount([each for each in seen if each >= 0], minlength=len(kinds)).astype(float)
    steps = np.full((len(likely), 1, count + 1, count), 1.0 / count)
    for t in range(1, len(likely)):
        others = tally.copy()
        if seen[t - 1] >= 0:
            others[seen[t - 1]] -= 1  # a move does not foretell itself
        rows = others[kind] + UNTAUGHT / count
        steps[t, 0, :count] = rows / rows.sum(axis=1, keepdims=True)
    return _Scheme(steps, np.arange(count), np.log([ITS_OWN]), ("an order of its own",))


def _likely(near: Array, schemes: Sequence[_Scheme]) -> tuple[Array, str]:
    """How likely each reed is for each tone over all orders; and the words of the likeliest."""
    evidence = [
        evidences(scheme.moves, near[None][:, :, scheme.columns], STRAY_DENSITY)[:, 0]
        + scheme.prior
        for scheme in schemes
    ]
    top = max(float(each.max()) for each in evidence)
    whole = sum(float(np.exp(each - top).sum()) for each in evidence)
    found = np.zeros_like(near)
    words: dict[str, float] = {}
    for scheme, each in zip(schemes, evidence, strict=True):
        weights = np.exp(each - top) / whole
        for text, weight in zip(scheme.words, weights, strict=True):
            words[text] = words.get(text, 0.0) + float(weight)
        states = likely_states(scheme.moves, near[:, scheme.columns], STRAY_DENSITY)
        mixed = np.einsum("s,stm->tm", weights, states)
        np.add.at(found.T, scheme.columns, mixed.T)  # a listed order may hold a reed twice
    return found, max(words, key=lambda text: words[text])


def _chances(readings: Array, weights: Array, schemes: Sequence[_Scheme]) -> Array:
    """How likely each reading is, over all orders; they sum to 1."""
    each = np.concatenate(
        [
            evidences(scheme.moves, readings[:, :, scheme.columns], STRAY_DENSITY)
            + scheme.prior[:, None]
            for scheme in schemes
        ]
    )
    each = each + weights[None]
    chance: Array = np.exp(each - each.max()).sum(axis=0)
    scaled: Array = chance / chance.sum()
    return scaled


def _undecided(near: Array, group: Sequence[int]) -> list[int]:
    """The tones that two or more reeds of the group could sound, and hardly another reed."""
    inside = near[:, list(group)]
    whole = near.sum(axis=1)
    ranked = np.sort(inside, axis=1)
    return [
        k
        for k in range(len(near))
        if whole[k] > STRAY_DENSITY
        and inside[k].sum() > MOSTLY * whole[k]
        and ranked[k, -2] > AT_ALL * ranked[k, -1]
    ]


def _weighed(
    near: Array, group: Sequence[int], mine: Sequence[int], tones: Sequence[Tone]
) -> tuple[list[tuple[int, ...]], Array]:
    """The ways of dealing the group's tones that pitch allows, and the logarithms of weights."""
    hz = [tones[k].hz for k in mine]
    middle = float(np.median(hz))
    off = [cents_between(each, middle) for each in hz]
    doubt = [tones[k].uncertainty for k in mine]
    ways = [
        way
        for way in dealings(off, len(group))
        if all(near[k, group[reed]] > 0 for k, reed in zip(mine, way, strict=True))
    ] or [tuple(int(each) for each in np.argmax(near[np.ix_(mine, group)], axis=1))]
    return ways, np.array([dealing_weight(way, off, doubt, len(group)) for way in ways])


def _deal(near: Array, group: Sequence[int], mine: Sequence[int], way: Sequence[int]) -> None:
    """Leave each of the group's tones only the reed that it is dealt to, in place."""
    for k, reed in zip(mine, way, strict=True):
        kept = near[k, group[reed]]
        near[k] = 0.0
        near[k, group[reed]] = kept


def _named(tone: Tone, name: int, likely: Array, among: Places) -> NamedTone:
    if name < 0:
        return NamedTone(tone, None, 0.0, float(max(0.0, 1 - likely.sum())))
    others = [
        (float(much), among.reeds[k])
        for k, much in enumerate(likely)
        if k != name and much >= COULD_BE
    ]
    return NamedTone(
        tone,
        among.reeds[name],
        cents_between(tone.hz, float(among.hz[name])),
        float(likely[name]),
        others=tuple(reed for _, reed in sorted(others, reverse=True)),
    )


def _known_places(tones: Sequence[Tone], names: Sequence[int], among: Places) -> dict[Reed, float]:
    """Cents from target of the reeds that were heard alone: the median of their tones."""
    found: dict[Reed, list[float]] = {}
    for tone, name in zip(tones, names, strict=True):
        if name >= 0:
            off = cents_between(tone.hz, float(among.hz[name]))
            found.setdefault(among.reeds[name], []).append(off)
    return {reed: float(np.median(each)) for reed, each in found.items()}


def _measured(
    targets: Targets, named: tuple[NamedTone, ...], at_bench: bool, words: str
) -> Measurement:
    reeds = measure_reeds(named, targets, at_bench)
    heard = {each.reed for each in reeds} | {each.upper for each in named if each.upper}
    heard |= {each.reed for each in named if each.reed}
    return Measurement(
        targets,
        named,
        reeds,
        tuple(target.reed for target in targets.reeds if target.reed not in heard),
        float(np.median([each.cents for each in reeds])) if reeds else 0.0,
        at_bench,
        words,
    )


def _hz_before(before: Measurement | Mapping[Reed, float] | None) -> Mapping[Reed, float]:
    if before is None:
        return {}
    if isinstance(before, Measurement):
        return {each.reed: each.hz for each in before.reeds if not each.others}
    return before
