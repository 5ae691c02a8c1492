"""`reedwright tab`: the tab of a tune for a terminal."""

from __future__ import annotations

import argparse
import shutil
from typing import TYPE_CHECKING

from reedwright.cli import arranging, choosing
from reedwright.cli.output import JsonResults, json_results, shows

if TYPE_CHECKING:
    from reedwright.tab.arrangement import Arrangement

# What the tab is drawn with; a terminal that lacks one of these gets the ASCII form.
SIGNS = "↑↓°×·"


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "tab",
        help="work out and print the tab of a tune",
        description="Find the tab of least effort for a tune, a harp and a player, and print it. "
        "With no harp named, the harp that the tune lies best on is taken.",
    )
    arranging.add_arrangement_options(command)
    choosing.add_style_option(command)
    command.add_argument(
        "--ascii", action="store_true", help="5+ and 5- for arrows, for old terminals"
    )
    command.add_argument("--spoken", action="store_true", help="in words, for a screen reader")
    command.add_argument(
        "--why", metavar="BAR", type=int, help="explain a bar: the ways not taken and their cost"
    )
    command.add_argument(
        "--breath",
        action="store_true",
        help="how full the lungs are, at tempo and practised slowly",
    )
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    with json_results(args.json, many=args.tune == choosing.ALL) as printed:
        return _each(args, printed)


def _each(args: argparse.Namespace, printed: JsonResults | None) -> int:
    choosing.check_choices(args)
    for tune in choosing.chosen_tunes(args):
        with choosing.one_of_many(args, tune):
            arrangement = arranging.arrangement(args, tune)
            if printed is not None:
                printed.add(_report(args, arrangement))
            else:
                print(_text(args, arrangement))
    return choosing.status(args)


def _report(args: argparse.Namespace, arrangement: Arrangement) -> dict[str, object]:
    if args.why is not None:
        from reedwright.tab.fingerings.why import why_bar, why_report

        return why_report(why_bar(arrangement, args.why))
    if args.breath:
        from reedwright.tab.breath.words import breath_report

        return breath_report(arrangement, never=arrangement.unbreathed)
    from reedwright.tab.report import arrangement_report

    return arrangement_report(arrangement)


def _text(args: argparse.Namespace, arrangement: Arrangement) -> str:
    width = shutil.get_terminal_size().columns
    ascii_only = args.ascii or not shows(SIGNS)
    if args.why is not None:
        from reedwright.tab.fingerings.why import why_bar, why_text

        return why_text(why_bar(arrangement, args.why))
    if args.breath:
        from reedwright.tab.breath.textplot import breath_text

        return breath_text(arrangement, width, ascii_only, never=arrangement.unbreathed)
    if args.spoken:
        from reedwright.tab.spoken import spoken_tab

        return spoken_tab(arrangement)
    from reedwright.tab.text import tab_text

    return tab_text(arrangement, args.style, width, ascii_only)
