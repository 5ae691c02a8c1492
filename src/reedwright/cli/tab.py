"""`reedwright tab`: the tab of a tune for a terminal."""

from __future__ import annotations

import argparse
import shutil

from reedwright.cli import choosing
from reedwright.cli.output import JsonResults, json_results, shows

# What the tab is drawn with; a terminal that lacks one of these gets the ASCII form.
SIGNS = "↑↓°×·"


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "tab",
        help="work out and print the tab of a tune",
        description="Find the tab of least effort for a tune, a harp and a player, and print it. "
        "With no harp named, the harp that the tune lies best on is taken.",
    )
    choosing.add_tune_options(command)
    choosing.add_harp_options(command)
    choosing.add_player_option(command)
    choosing.add_tempo_option(command)
    choosing.add_ranking_options(command)
    choosing.add_style_option(command)
    command.add_argument(
        "--ascii", action="store_true", help="5+ and 5- for arrows, for old terminals"
    )
    command.add_argument("--spoken", action="store_true", help="in words, for a screen reader")
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    with json_results(args.json, many=args.tune == choosing.ALL) as printed:
        return _each(args, printed)


def _each(args: argparse.Namespace, printed: JsonResults | None) -> int:
    from reedwright.tab.notation import TabStyle
    from reedwright.tab.report import arrangement_report
    from reedwright.tab.spoken import spoken_tab
    from reedwright.tab.text import tab_text

    choosing.check_choices(args)
    ascii_only = args.ascii or not shows(SIGNS)
    for tune in choosing.chosen_tunes(args):
        with choosing.one_of_many(args, tune):
            arrangement = choosing.arrangement(args, tune)
            if printed is not None:
                printed.add(arrangement_report(arrangement))
            elif args.spoken:
                print(spoken_tab(arrangement))
            else:
                width = shutil.get_terminal_size().columns
                print(tab_text(arrangement, TabStyle(args.style), width, ascii_only))
    return choosing.status(args)
