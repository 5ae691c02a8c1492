"""`reedwright valves`: a tune on a harp without valves and with them, side by side."""

from __future__ import annotations

import argparse
import shutil

from reedwright.cli import arranging, choosing
from reedwright.cli.output import JsonResults, json_results


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "valves",
        help="what valves on the harp would bring to a tune",
        description="Arrange a tune on a harp without valves and with them (half-valved unless "
        "--valves says otherwise), and tell for each note whether it bends, takes vibrato, is "
        "breathy. With no harp named, the harp that the tune lies best on is taken.",
    )
    arranging.add_arrangement_options(command)
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    with json_results(args.json, many=args.tune == choosing.ALL) as printed:
        return _each(args, printed)


def _each(args: argparse.Namespace, printed: JsonResults | None) -> int:
    from reedwright.tab.expression import compare_valves, valves_report, valves_text

    choosing.check_choices(args)
    width = shutil.get_terminal_size().columns
    first = True
    for tune in choosing.chosen_tunes(args):
        with choosing.one_of_many(args, tune):
            on = arranging.arrangement(args, tune)
            found = compare_valves(
                tune, on.harp, on.player, on.voice, on.octaves, on.semitones, args.tempo
            )
            if printed is not None:
                printed.add(valves_report(found))
            else:
                print(("" if first else "\n") + valves_text(found, width))
            first = False
    return choosing.status(args)
