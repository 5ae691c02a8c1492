"""`reedwright bench history`: what was measured and done, harp by harp."""

from __future__ import annotations

import argparse

from reedwright.cli import choosing
from reedwright.cli.bench import options
from reedwright.cli.output import print_json
from reedwright.errors import ReedwrightError


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = what.add_parser(
        "history",
        help="what was measured and done, harp by harp",
        description="Show the history of a harp of your own: measurements before and after, "
        "conversions, notes, with their dates. Without NAME, list the harps that have one.",
    )
    command.add_argument("name", metavar="NAME", nargs="?", help="such as 'the red G'")
    command.add_argument(
        "--start", metavar="HARP", help=f"begin one: what harp it is, {options.HARP_HELP}"
    )
    command.add_argument("--note", metavar="TEXT", help="add a note")
    command.add_argument(
        "--converted", metavar="HARP", help="add that it was made this harp, with --note if any"
    )
    options.add_tuning_and_valves(command)
    choosing.add_json_option(command)
    command.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from reedwright.workshop.history.keeping import (
        add_conversion,
        add_note,
        open_history,
        start_history,
    )
    from reedwright.workshop.history.text import history_report, history_text

    if args.name is None:
        if args.start or args.note or args.converted:
            raise ReedwrightError("Say the name of the harp, such as 'the red G'.")
        return _list(args)
    if args.start is not None and args.converted is not None:
        raise ReedwrightError("--start and --converted tell of two days; say one after the other.")
    if args.start is not None:
        history = start_history(args.name, options.harp_words(args.start, args.tuning, args.valves))
    else:
        history = open_history(args.name)
    if args.converted is not None:
        made = options.harp_words(args.converted, args.tuning, args.valves)
        history = add_conversion(history, made, note=args.note or "")
    elif args.note is not None:
        history = add_note(history, args.note)
    if args.json:
        print_json(history_report(history))
    else:
        print(history_text(history))
    return 0


def _list(args: argparse.Namespace) -> int:
    from reedwright.workshop.history.keeping import bench_folder, histories, unreadable
    from reedwright.workshop.history.text import history_report

    known = histories()
    broken = unreadable()
    for why in broken:
        choosing.tell(why)
    if args.json:
        print_json([history_report(each) for each in known])
    elif not known:
        print(f"No harp has a history yet ({bench_folder()}).")
    else:
        width = max(len(each.name) for each in known)
        for each in known:
            dates = [entry.date for entry in each.by_date]
            many = "1 entry" if len(dates) == 1 else f"{len(dates)} entries"
            last = f", last {dates[-1]:%Y-%m-%d}" if dates else ""
            print(f"{each.name:{width}}  {each.harp_now}, {many}{last}")
    return 1 if broken else 0
