"""From a harp that can be bought to the one that is wanted: the plan, and which harp to buy.

Public: `plan_conversion`, `rank_stocks`, `ConversionError`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from reedwright.harp.model import Harp, Reed
from reedwright.harp.naming import KEYS
from reedwright.tab.words import with_article
from reedwright.workshop.changes import hole_changes
from reedwright.workshop.conversion.checks import check_words, finish_words
from reedwright.workshop.conversion.costs import SWAP_OVER
from reedwright.workshop.conversion.donors import Donors
from reedwright.workshop.conversion.handwork import (
    by_weight,
    coarse_target,
    how_words,
    warning_words,
)
from reedwright.workshop.conversion.model import Conversion, ReedWork, Work
from reedwright.workshop.conversion.order import Stage, bench_key, stage_of
from reedwright.workshop.conversion.reeds import (
    Draft,
    MeasuredReedError,
    reed_drafts,
)
from reedwright.workshop.conversion.stock import (
    OFTEN_SOLD,
    ConversionError,
    comparable,
    stock_harps,
    stock_pitches,
)
from reedwright.workshop.targets.making import reed_targets
from reedwright.workshop.targets.model import Targets, TargetWishes

MANY_SWAPS = 6  # reeds; judgement
FAR_LESS = 2.0  # times less effort, for another harp to be named; judgement


def plan_conversion(
    wanted: Harp,
    wishes: TargetWishes | None = None,
    stock: Harp | None = None,
    stocks: Sequence[Harp] | None = None,
    *,
    stock_wishes: TargetWishes | None = None,
    measured: Mapping[Reed, float] | None = None,
    donors: Sequence[Harp] | None = None,
    swap_over: float = SWAP_OVER,
    name: str = "",
) -> Conversion:
    """The work to make `wanted`, from `stock`, or from the one of `stocks` that needs the least.

    `wishes`: how the harp is to be tuned (equal temperament at its own A4 if not said). `stocks`:
    harps that can be bought, if not said standard harps in every key and register. `stock_wishes`:
    how they are tuned when bought; if not said equal temperament at their own A4, sounding so when
    they are played (that is, at the bench sharper by the `pressure` of `wishes`); an old harp's A4
    may be 415 to 460 Hz. `measured`: pitches in
    Hz found on this very `stock` at the bench. `donors`: harps to take reeds from where retuning
    would go further than `swap_over` semitones; if not said, `stocks` and standard harps in every
    key. `name`: what it is for.

    Raises `NoStock` where none has the holes that are wanted, `MeasuredReedError`,
    `ConversionError` for a senseless `swap_over` or A4 of the stock, and the errors of
    `reed_targets`.
    """
    if stock is None:
        if measured:
            raise MeasuredReedError(
                "measured reeds belong to one harp: say which stock harp was measured"
            )
        ranked = rank_stocks(
            wanted,
            wishes,
            stocks,
            stock_wishes=stock_wishes,
            donors=donors,
            swap_over=swap_over,
            name=name,
        )
        best = ranked[0]
        pool = _pool(stock_harps() if stocks is None else stocks, donors)
        return _told_of_better(best, stock_wishes, pool, swap_over)
    _check_swap_over(swap_over)
    (stock,) = comparable(wanted, (stock,))
    targets = reed_targets(wanted, wishes)
    pool = _pool(stocks or (), donors)
    plan = _plan(stock, targets, stock_wishes, measured, pool, swap_over, name)
    return _told_of_better(plan, stock_wishes, pool, swap_over)


def rank_stocks(
    wanted: Harp,
    wishes: TargetWishes | None = None,
    stocks: Sequence[Harp] | None = None,
    *,
    stock_wishes: TargetWishes | None = None,
    donors: Sequence[Harp] | None = None,
    swap_over: float = SWAP_OVER,
    name: str = "",
) -> tuple[Conversion, ...]:
    """The conversion from every harp that can be bought, the one with the least effort first.

    Of equal ones those with fewer reeds to change go first, then those of an ordinary register,
    of the wanted harp's first position, and lower keys. Parameters and errors as above.
    """
    _check_swap_over(swap_over)
    buyable = stock_harps() if stocks is None else tuple(stocks)
    targets = reed_targets(wanted, wishes)
    pool = _pool(buyable, donors)
    found = [
        _plan(stock, targets, stock_wishes, None, pool, swap_over, name)
        for stock in comparable(wanted, buyable)
    ]
    return tuple(sorted(found, key=_rank))


def _pool(stocks: Sequence[Harp], donors: Sequence[Harp] | None) -> Donors:
    return Donors((*stocks, *stock_harps()) if donors is None else donors)


def _check_swap_over(semitones: float) -> None:
    if not semitones >= 0:
        raise ConversionError(
            f"reeds cannot be swapped beyond {semitones} semitones: give 0 or more, such as 2.5, "
            "or a large number for never"
        )


def _rank(each: Conversion) -> tuple[float, int, bool, bool, int]:
    stock, wanted = each.stock, each.wanted
    return (
        round(each.effort, 6),
        len(each.retuned),
        stock.register != "ordinary",
        stock.home_pitch_class != wanted.home_pitch_class,
        KEYS.index(stock.key),
    )


def _plan(
    stock: Harp,
    targets: Targets,
    stock_wishes: TargetWishes | None,
    measured: Mapping[Reed, float] | None,
    pool: Donors,
    swap_over: float,
    name: str,
) -> Conversion:
    if stock_wishes is None:
        stock_wishes = TargetWishes(a4=stock.a4, pressure=targets.wishes.pressure)
    at_first = stock_pitches(stock, stock_wishes)
    drafts = reed_drafts(stock, at_first, targets, pool, swap_over, measured)
    drafts = tuple(sorted(drafts, key=bench_key))
    return Conversion(
        stock,
        targets.harp,
        targets,
        _works(drafts, targets),
        hole_changes(stock, targets.harp),
        sum(draft.semitones for draft in drafts),
        sum(draft.cost for draft in drafts),
        name,
        _notes(drafts, stock, targets, None if measured else stock_wishes),
    )


def _told_of_better(
    plan: Conversion, stock_wishes: TargetWishes | None, pool: Donors, swap_over: float
) -> Conversion:
    """The plan; where it has very many swaps its note names a harp that needs far less, if any."""
    swaps = sum(work.work is Work.SWAP for work in plan.works)
    if swaps <= MANY_SWAPS:
        return plan
    wanted = plan.wanted.tuning
    others = [
        _plan(harp, plan.targets, stock_wishes, None, pool, swap_over, plan.name)
        for harp in pool.harps
        if (harp.tuning.holes, harp.tuning.slide) == (wanted.holes, wanted.slide)
    ]
    best = min(others, key=_rank, default=plan)
    if best.effort * FAR_LESS > plan.effort:
        return plan
    better = (
        f"{_many_swaps(swaps)} Start from {with_article(best.stock.name)} instead: effort "
        f"{best.effort:.1f}, not {plan.effort:.1f}."
    )
    general = _many_swaps(swaps) + _ELSEWHERE
    notes = (better if note == general else note for note in plan.notes)
    return replace(plan, notes=tuple(notes))


def _many_swaps(swaps: int) -> str:
    return (
        f"{swaps} reeds would have to be swapped: that is a set of plates rather than a retuning."
    )


_ELSEWHERE = " Ask for one, or start from another harp."


def _notes(
    drafts: Sequence[Draft], stock: Harp, targets: Targets, assumed: TargetWishes | None
) -> tuple[str, ...]:
    """What the user should know before starting. `assumed`: how the stock was taken to be tuned."""
    wanted = targets.harp
    found = []
    if assumed is not None:
        found.append(
            f"Where the reeds are now is assumed, not measured: {assumed.temperament} temperament "
            f"at A {assumed.a4:g}. If you can, measure the harp first and plan from that."
        )
    if drafts and wanted.tuning.name in OFTEN_SOLD and stock.tuning.name != wanted.tuning.name:
        found.append(
            f"Harps in this tuning ({wanted.tuning.title}) are sold, too, though not in all keys: "
            "ask for one before you file."
        )
    swaps = sum(draft.work is Work.SWAP for draft in drafts)
    if swaps > MANY_SWAPS:
        found.append(_many_swaps(swaps) + _ELSEWHERE)
    if drafts and wanted.tuning.slide:
        found.append(
            "The plan is for the reeds that sound with the slide out. Those behind the slide are "
            "left out; work on them likewise, from the harp's chart."
        )
    return tuple(found)


def _works(drafts: Sequence[Draft], targets: Targets) -> tuple[ReedWork, ...]:
    """Drafts in bench order as works, each with its words."""
    untouched = {target.reed for target in targets.reeds} - {draft.reed for draft in drafts}
    notes_wrong = {draft.reed for draft in drafts if draft.work is not Work.TOUCH}
    # Reeds are finished by hole, blow before draw: those that are right when each one's turn comes.
    right, by_then = set(untouched), {}
    for reed in sorted(draft.reed for draft in drafts):
        by_then[reed] = frozenset(right)
        right.add(reed)
    found = []
    for draft in drafts:
        notes_wrong.discard(draft.reed)
        beside = Reed(draft.reed.hole, draft.reed.breath.other)
        coarse = coarse_target(draft)
        at_once = coarse is None and draft.work is not Work.SWAP
        right_now = by_then[draft.reed] if stage_of(draft) is Stage.FINE else untouched
        tries_bends = draft.work is not Work.TOUCH and beside not in notes_wrong
        found.append(
            ReedWork(
                draft.reed,
                draft.work,
                draft.from_midi,
                draft.to_midi,
                draft.from_hz,
                draft.to_hz,
                draft.cents,
                how_words(draft, targets.harp),
                check_words(draft, targets, right_now, tries_bends, coarse),
                warning_words(draft),
                draft.donors,
                coarse,
                "" if at_once else finish_words(draft.reed, targets, by_then[draft.reed]),
                draft.cost,
                by_weight(draft),
            )
        )
    return tuple(found)
