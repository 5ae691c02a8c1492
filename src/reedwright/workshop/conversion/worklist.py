"""Several conversions as one list: what to buy for all of them, and in what order to work.

All harps go through each stage together, so that they settle in one night.

Public: `plan_worklist`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from reedwright.harp.model import Harp
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
    swaps = [Swap(conversions[c].works[w].reed, conversions[c].works[w].donors) for c, w in places]
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
        if stage_of(work.work) is stage
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
        was, now = swap_cost(work.donors[0], work.reed), swap_cost(donor, work.reed)
        effort, semitones = effort + now[0] - was[0], semitones + now[1] - was[1]
        others = tuple(each for each in work.donors if each != donor)
        works.append(replace(work, donors=(donor, *others), how=swap_words(donor)))
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
    giving: dict[Harp, list[int]] = {}
    for (c, _), donor in donors.items():
        giving.setdefault(donor.harp, []).append(c + 1)
    bought, taken = [], []
    for harp in dict.fromkeys((*stocks, *giving)):
        uses, gives = stocks.get(harp, []), chosen.harps.get(harp, 0)
        used_for = tuple(sorted({*uses, *giving.get(harp, ())}))
        # Those at hand are converted before they are taken apart.
        converted = min(there[harp], len(uses))
        taken_apart = min(there[harp] - converted, gives)
        if converted + taken_apart:
            taken.append(Purchase(harp, converted + taken_apart, used_for, taken_apart))
        rest = len(uses) + gives - converted - taken_apart
        if rest:
            bought.append(Purchase(harp, rest, used_for, gives - taken_apart))
    return tuple(bought), tuple(taken)
