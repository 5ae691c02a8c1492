"""`reedwright bench plan`: which harp to buy, which reeds to move, in what order."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.bench import options
from reedwright.cli.output import print_json
from reedwright.errors import ReedwrightError
from reedwright.workshop.conversion.costs import SWAP_OVER

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from reedwright.harp.model import Harp, Reed
    from reedwright.workshop.conversion.model import Conversion, WorkList
    from reedwright.workshop.targets.model import TargetWishes

# How many times less the effort from a harp that is sold has to be, for it to be told of.
FAR_EASIER = 3.0  # our own choice


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = what.add_parser(
        "plan",
        help="make a tuning from a harp that can be bought",
        description="Plan how to make harps from those that can be bought: which key to start "
        "from, what each reed is moved by, how, in what order, with a check after each. Several "
        "harps are planned together: one shopping list, one work list.",
    )
    options.add_harp(command, many=True)
    options.add_targets(command)
    add_stock(command)
    command.add_argument(
        "--ranked",
        action="store_true",
        help="for one harp: list the harps to start from, least work first",
    )
    choosing.add_json_option(command)
    command.set_defaults(run=_plan)


def add_stock(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--stock",
        metavar="LIST",
        help="harps to start from, such as 'C, G, low D' (default: any Richter harp)",
    )
    command.add_argument(
        "--sold",
        action="store_true",
        help="start from other tunings that are often sold, too, such as natural minor",
    )
    command.add_argument(
        "--have",
        metavar="LIST",
        help="harps at hand, each named as often as it is there: 'C, G, low D'; those that a plan "
        "starts from are converted, others may give reeds",
    )
    command.add_argument(
        "--swap-over",
        type=options.number,
        default=SWAP_OVER,
        metavar="SEMITONES",
        help=f"swap a reed that would go further than this (default {SWAP_OVER})",
    )
    command.add_argument(
        "--stock-a4",
        type=options.number,
        metavar="HZ",
        help="what it is tuned to (415 to 460, default 440)",
    )
    command.add_argument("--stock-temperament", metavar="NAME", help="and how (default equal)")
    command.add_argument(
        "--from-harp",
        dest="history",
        metavar="NAME",
        help="start from a harp of your own that was measured, by its name in "
        "`reedwright bench history`",
    )


def _plan(args: argparse.Namespace) -> int:
    from reedwright.workshop.conversion.report import plan_report, stocks_report
    from reedwright.workshop.conversion.text import (
        conversion_text,
        shopping_text,
        stocks_text,
        worklist_text,
    )

    if args.ranked:
        if len(args.harps) > 1:
            raise ReedwrightError("--ranked compares what to start from for one harp; name one.")
        if args.history is not None:
            raise ReedwrightError(
                "--ranked compares harps to start from, --from-harp names the one; leave one out."
            )
        ranked = _ranked(args)
        if args.json:
            print_json(stocks_report(ranked))
        else:
            print(stocks_text(ranked))
        return 0
    together = worklist(args)
    if args.json:
        print_json(plan_report(together))
    elif len(together.conversions) == 1:
        print(conversion_text(together.conversions[0]))
        print(f"\n{shopping_text(together)}")
    else:
        print(worklist_text(together))
    return 0


def worklist(args: argparse.Namespace) -> WorkList:
    """What is planned for the harps together: also for one, so that few harps give its reeds."""
    from reedwright.harp.making import parse_harps
    from reedwright.workshop.conversion.worklist import plan_worklist

    at_hand = () if args.have is None else parse_harps(args.have)
    conversions = _conversions(args)
    if args.history is not None:
        at_hand += tuple(each.stock for each in conversions)
    elif args.stock is None:
        _tell_of_those_at_hand(args, conversions, at_hand)
    return plan_worklist(conversions, at_hand)


def _tell_of_those_at_hand(
    args: argparse.Namespace, conversions: Sequence[Conversion], at_hand: Sequence[Harp]
) -> None:
    """Which of the harps at hand needs the least work, where a plan starts from none of them."""
    from reedwright.tab.words import with_article
    from reedwright.workshop.conversion.planning import rank_stocks
    from reedwright.workshop.conversion.stock import NoStock

    for each in conversions:
        if not at_hand or each.stock in at_hand:
            continue
        try:
            best = rank_stocks(
                each.wanted,
                each.targets.wishes,
                at_hand,
                stock_wishes=_stock_wishes(args),
                donors=_donors(args),
                swap_over=args.swap_over,
            )[0]
        except NoStock:
            continue
        choosing.tell(
            f"{each.wanted.name}: from {with_article(each.stock.name)} the effort is "
            f"{each.effort:.1f}; of those at hand {with_article(best.stock.name)} comes nearest, "
            f"with {best.effort:.1f}; --stock starts from it."
        )


def _conversions(args: argparse.Namespace) -> tuple[Conversion, ...]:
    from reedwright.workshop.conversion.planning import plan_conversion

    wishes = options.wishes_of(args)
    if args.history is not None:
        if len(args.harps) > 1:
            raise ReedwrightError("--from-harp starts from one harp; plan one at a time.")
        return (_from_history(args, wishes),)
    return tuple(
        plan_conversion(
            options.harp_of(args, text),
            wishes,
            stocks=_stocks(args),
            stock_wishes=_stock_wishes(args),
            donors=_donors(args),
            swap_over=args.swap_over,
        )
        for text in args.harps
    )


def _from_history(args: argparse.Namespace, wishes: TargetWishes) -> Conversion:
    from reedwright.harp.making import parse_harp
    from reedwright.workshop.conversion.planning import plan_conversion
    from reedwright.workshop.history.comparing import latest
    from reedwright.workshop.history.keeping import open_history

    if args.stock is not None:
        raise ReedwrightError("--from-harp names a harp of your own; leave out --stock.")
    known = open_history(args.history)
    now = parse_harp(known.harp_now)
    measured = latest(known)
    planned = plan_conversion(
        options.harp_of(args, args.harps[0]),
        wishes,
        now,
        stock_wishes=_stock_wishes(args),
        measured=measured,
        donors=_donors(args),
        swap_over=args.swap_over,
        name=known.name,
    )
    _tell_of_own(args, planned, measured)
    return planned


def _tell_of_own(
    args: argparse.Namespace, planned: Conversion, measured: Mapping[Reed, float]
) -> None:
    """What a plan from a harp of one's own rests on, and whether another start is far easier."""
    from reedwright.tab.words import with_article
    from reedwright.workshop.measuring.remarks import reed_words

    unknown = [each.reed for each in planned.targets.reeds if each.reed not in measured]
    if unknown:
        every = len(unknown) == len(planned.targets.reeds)
        which = "every reed" if every else ", ".join(reed_words(reed) for reed in unknown)
        choosing.tell(
            f"not measured on {planned.name} as it is now: {which}. What was not measured is taken "
            "to be where a new harp has it; `reedwright bench measure` makes it sure."
        )
    try:
        best = _ranked(args)[0]
    except ReedwrightError:  # no harp of this kind is sold in standard tuning
        return
    if best.effort * FAR_EASIER < planned.effort:
        choosing.tell(
            f"from {planned.name} that is much work (effort {planned.effort:.1f}); from "
            f"{with_article(best.stock.name)} it is {best.effort:.1f}."
        )


def _ranked(args: argparse.Namespace) -> tuple[Conversion, ...]:
    from reedwright.workshop.conversion.planning import rank_stocks

    return rank_stocks(
        options.harp_of(args, args.harps[0]),
        options.wishes_of(args),
        _stocks(args),
        stock_wishes=_stock_wishes(args),
        donors=_donors(args),
        swap_over=args.swap_over,
    )


def _stocks(args: argparse.Namespace) -> tuple[Harp, ...]:
    """The harps to start from."""
    from reedwright.harp.making import parse_harps
    from reedwright.workshop.conversion.stock import OFTEN_SOLD, stock_harps

    if args.stock is not None:
        return parse_harps(args.stock)
    return stock_harps(OFTEN_SOLD) if args.sold else stock_harps()


def _donors(args: argparse.Namespace) -> tuple[Harp, ...]:
    """The harps that may give reeds: those at hand, and any that is sold."""
    from reedwright.harp.making import parse_harps
    from reedwright.workshop.conversion.stock import stock_harps

    return (*(() if args.have is None else parse_harps(args.have)), *stock_harps())


def _stock_wishes(args: argparse.Namespace) -> TargetWishes | None:
    from reedwright.harp.naming import A4_HZ
    from reedwright.workshop.targets.model import TargetWishes

    if args.stock_a4 is None and args.stock_temperament is None:
        return None
    return TargetWishes(
        "equal" if args.stock_temperament is None else args.stock_temperament,
        A4_HZ if args.stock_a4 is None else args.stock_a4,
        pressure=args.pressure,
    )
