"""`reedwright shelf settings`: tunes that seem to be settings of one another."""

from __future__ import annotations

import argparse

from reedwright.cli import choosing
from reedwright.cli.output import Progress, print_json
from reedwright.cli.shelf import options


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    settings = what.add_parser(
        "settings",
        help="tunes that seem to be settings of one another: yes or no?",
        description="List pairs that seem to be settings of one tune: in another key, octave, "
        "note length, with other graces. Nothing is merged: --yes keeps them together as settings, "
        "--no has them never offered again.",
    )
    settings.add_argument("tune", metavar="N", nargs="?", help="only those of this tune")
    settings.add_argument(
        "--yes", metavar="N", nargs="+", help="settings of one tune: these and the first one"
    )
    settings.add_argument("--no", metavar="N", nargs="+", help="other tunes than the first one")
    settings.add_argument(
        "--take-back", action="store_true", help="take the last --yes or --no back"
    )
    settings.add_argument(
        "--look", action="store_true", help="first compare what has not been compared yet"
    )
    settings.add_argument(
        "--limit", type=choosing.positive, default=20, metavar="N", help="how many (default 20)"
    )
    options.add_shelf_option(settings)
    choosing.add_json_option(settings)
    settings.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from reedwright.errors import ReedwrightError
    from reedwright.shelf.likenesses.deciding import accept, offers, refuse, take_back
    from reedwright.shelf.likenesses.finding_out import find_likenesses
    from reedwright.shelf.likenesses.text import offers_report, offers_text

    if (args.yes or args.no) and args.tune is None:
        raise ReedwrightError("Say both tunes: reedwright shelf settings 12 --yes 340.")
    with options.opened(args) as shelf:
        tune = None if args.tune is None else options.any_item(shelf, args.tune).id
        if args.look:
            with Progress() as progress:
                find_likenesses(shelf, None, progress)
        if args.take_back and not take_back(shelf):
            choosing.tell("there is no verdict to take back.")
        if args.yes is not None and tune is not None:
            accept(shelf, tune, *(options.any_item(shelf, each).id for each in args.yes))
        if args.no is not None and tune is not None:
            refuse(shelf, tune, *(options.any_item(shelf, each).id for each in args.no))
        found = offers(shelf, tune)
        if args.json:
            print_json(offers_report(shelf, found))
        else:
            print(offers_text(shelf, found, args.limit))
    return 0
