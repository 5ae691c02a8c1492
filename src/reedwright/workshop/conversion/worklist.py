"""Several conversions as one list: what to buy for all of them, and in what order to work.

All harps go through each stage together, so that they settle in one night.

Public: `plan_worklist`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace

from reedwright.harp.model import Harp, Reed
from reedwright.workshop.conversion.handwork import swap_words
from reedwright.workshop.conversion.model import (
    Conversion,
    Donor,
    Purchase,
    ReedWork,
    Work,
    WorkList,
)
from reedwright.workshop.conversion.order import Stage, stage_of
from reedwright.workshop.conversion.reeds import swap_cost
from reedwright.workshop.conversion.sharing import Chosen, Swap, choose_donors


def plan_worklist(conversions: Sequence[Conversion], at_hand: Sequence[Harp] = ()) -> WorkList:
    """The shopping and work list of conversions, one or more; none give an empty list.

    `at_hand`: harps that are there to be used up, each as often as it is there; they are
    converted first, and what is left gives reeds.

    As few harps as possible are bought for their reeds (`sharing`); every swap names the
    donor that was chosen, so take the conversions from the answer and not those put in.
    """
    places = [
        (c, w)
        for c, conversion in enumerate(conversions)
        for w, work in enumerate(conversion.works)
        if work.work is Work.SWAP
    ]
    swaps = [
        Swap(work.reed, work.donors, conversions[c].wanted)
        for c, w in places
        for work in (conversions[c].works[w],)
    ]
    there = Counter(at_hand)
    left = there - Counter(each.stock for each in conversions)
    chosen = choose_donors(swaps, left)
    donors = dict(zip(places, chosen.donors, strict=True))
    agreed = tuple(_with_donors(each, c, donors) for c, each in enumerate(conversions))
    order = tuple(
        (c, w)
        for stage in Stage
        for c, conversion in enumerate(agreed)
        for w, work in enumerate(conversion.works)
        if stage_of(work) is stage
    )
    bought, taken = _harps(agreed, chosen, donors, there)
    return WorkList(agreed, bought, order, chosen.exact, taken)


def _with_donors(
    conversion: Conversion, number: int, donors: dict[tuple[int, int], Donor]
) -> Conversion:
    """The conversion with the chosen donor first in each swap; its sums follow."""
    works: list[ReedWork] = []
    semitones, effort = conversion.semitones, conversion.effort
    for w, work in enumerate(conversion.works):
        donor = donors.get((number, w))
        if donor is None or donor == work.donors[0]:
            works.append(work)
            continue
        was = swap_cost(work.donors[0], conversion.wanted, work.reed)
        now = swap_cost(donor, conversion.wanted, work.reed)
        effort, semitones = effort + now[0] - was[0], semitones + now[1] - was[1]
        others = tuple(each for each in work.donors if each != donor)
        works.append(
            replace(
                work,
                donors=(donor, *others),
                how=swap_words(donor, conversion.wanted, work.reed),
                effort=now[0],
            )
        )
    return replace(conversion, works=tuple(works), semitones=semitones, effort=effort)


def _harps(
    conversions: Sequence[Conversion],
    chosen: Chosen,
    donors: dict[tuple[int, int], Donor],
    there: Counter[Harp],
) -> tuple[tuple[Purchase, ...], tuple[Purchase, ...]]:
    """What to buy and what to take of that at hand.

    Harps to convert in the order of the conversions, then those that only give reeds.
    """
    stocks: dict[Harp, list[int]] = {}
    for number, conversion in enumerate(conversions, start=1):
        stocks.setdefault(conversion.stock, []).append(number)
    giving = _takers(donors)
    bought: list[Purchase] = []
    taken: list[Purchase] = []
    for harp in dict.fromkeys((*stocks, *giving)):
        uses, gives = stocks.get(harp, []), giving.get(harp, [])
        assert len(gives) == chosen.harps.get(harp, 0)
        # Those at hand are converted before they are taken apart.
        converted = min(there[harp], len(uses))
        apart = min(there[harp] - converted, len(gives))
        for kind, own, given in (
            (taken, uses[:converted], gives[:apart]),
            (bought, uses[converted:], gives[apart:]),
        ):
            if own or given:
                used_for = tuple(sorted({*own, *(each for one in given for each in one)}))
                kind.append(Purchase(harp, len(own) + len(given), used_for, len(given)))
    return tuple(bought), tuple(taken)


def _takers(donors: Mapping[tuple[int, int], Donor]) -> dict[Harp, list[list[int]]]:
    """For every single harp that gives reeds the conversions that it gives them to, from 1.

    Each gives each of its reeds once: the first taker of a reed has it of the first harp.
    """
    before: Counter[tuple[Harp, Reed]] = Counter()
    giving: dict[Harp, list[list[int]]] = {}
    for (c, _), donor in donors.items():
        harps = giving.setdefault(donor.harp, [])
        one = before[donor[:2]]
        before[donor[:2]] += 1
        if one == len(harps):
            harps.append([])
        harps[one].append(c + 1)
    return giving
