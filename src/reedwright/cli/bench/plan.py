"""`reedwright bench plan`: which harp to buy, which reeds to move, in what order."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.bench import options
from reedwright.cli.output import print_json
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.harp.model import Harp
    from reedwright.workshop.conversion.model import Conversion
    from reedwright.workshop.targets.model import TargetWishes


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
        "--stock-a4", type=float, metavar="HZ", help="what it is tuned to (default 440)"
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
    from reedwright.workshop.conversion.report import (
        conversion_report,
        stocks_report,
        worklist_report,
    )
    from reedwright.workshop.conversion.text import conversion_text, stocks_text, worklist_text
    from reedwright.workshop.conversion.worklist import plan_worklist

    if args.ranked:
        if len(args.harps) > 1:
            raise ReedwrightError("--ranked compares what to start from for one harp; name one.")
        ranked = _ranked(args)
        if args.json:
            print_json(stocks_report(ranked))
        else:
            print(stocks_text(ranked))
        return 0
    planned = conversions(args)
    if len(planned) == 1:
        if args.json:
            print_json(conversion_report(planned[0]))
        else:
            print(conversion_text(planned[0]))
        return 0
    together = plan_worklist(planned)
    if args.json:
        print_json(worklist_report(together))
    else:
        print(worklist_text(together))
    return 0


def conversions(args: argparse.Namespace) -> tuple[Conversion, ...]:
    """What is planned for each of the harps."""
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
    return plan_conversion(
        options.harp_of(args, args.harps[0]),
        wishes,
        parse_harp(known.harp_now),
        stock_wishes=_stock_wishes(args),
        measured=latest(known),
        name=known.name,
    )


def _ranked(args: argparse.Namespace) -> tuple[Conversion, ...]:
    from reedwright.workshop.conversion.planning import rank_stocks

    return rank_stocks(
        options.harp_of(args, args.harps[0]),
        options.wishes_of(args),
        _stocks(args),
        stock_wishes=_stock_wishes(args),
    )


def _stocks(args: argparse.Namespace) -> tuple[Harp, ...] | None:
    from reedwright.harp.making import parse_harps

    return None if args.stock is None else parse_harps(args.stock)


def _stock_wishes(args: argparse.Namespace) -> TargetWishes | None:
    from reedwright.workshop.targets.model import TargetWishes

    if args.stock_a4 is None and args.stock_temperament is None:
        return None
    return TargetWishes(
        args.stock_temperament or "equal", args.stock_a4 or 440.0, pressure=args.pressure
    )
