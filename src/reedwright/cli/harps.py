"""`reedwright harps`: which harp a tune lies best on."""

from __future__ import annotations

import argparse

from reedwright.cli import choosing, honouring
from reedwright.cli.output import JsonResults, json_results


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "harps",
        help="rank the harps that a tune can be played on",
        description="Rank every harp (key, low or high, tuning) for a tune, easiest first.",
    )
    choosing.add_tune_options(command)
    choosing.add_player_option(command)
    choosing.add_tempo_option(command)
    choosing.add_ranking_options(command)
    command.add_argument(
        "--any-key", action="store_true", help="also move the tune to other keys, not octaves alone"
    )
    command.add_argument(
        "--most", type=choosing.positive, default=12, metavar="N", help="rows to print (default 12)"
    )
    honouring.add_choices_options(command)
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    with json_results(args.json, many=args.tune == choosing.ALL) as printed:
        return _each(args, printed)


def _each(args: argparse.Namespace, printed: JsonResults | None) -> int:
    from reedwright.harp.cautions import SHORT_CAUTION
    from reedwright.tab.owned.harps import next_best
    from reedwright.tab.owned.words import add_next_best, next_best_text
    from reedwright.tab.ranking import rank_harps
    from reedwright.tab.report import ranking_report, ranking_text

    choosing.player(args)
    owned = choosing.owned_harps(args)
    reed_work = False
    for tune in choosing.chosen_tunes(args):
        with choosing.one_of_many(args, tune):
            player, voice = honouring.chosen_player(args, tune)
            ranked = rank_harps(
                tune,
                player,
                owned,
                voice,
                any_key=args.any_key,
                quarters_per_minute=args.tempo,
            )
            better = None
            if owned is not None:
                better = next_best(
                    tune,
                    player,
                    owned,
                    voice,
                    any_key=args.any_key,
                    quarters_per_minute=args.tempo,
                )
            if printed is not None:
                report = ranking_report(tune, ranked)
                if owned is not None:
                    add_next_best(report, tune, better)
                printed.add(report if args.tune == choosing.ALL else report["harps"])
                continue
            print(ranking_text(tune, ranked[: args.most]))
            if owned is not None and ranked:
                print(f"\n{next_best_text(better)}")
                reed_work |= better is not None and better.retune is not None
            if args.tune == choosing.ALL:
                print()
    if reed_work:
        print(f"\n{SHORT_CAUTION}")
    return choosing.status(args)
