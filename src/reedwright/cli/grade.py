"""`reedwright grade`: how hard a tune is, why, where, and how to practise it."""

from __future__ import annotations

import argparse
import shutil

from reedwright.cli import arranging, choosing
from reedwright.cli.output import JsonResults, json_results


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "grade",
        help="grade a tune, with reasons, hardest bars and a practice plan",
        description="Grade a tune from 1 to 10 for a player on a harp, tell why and where it is "
        "hard, and plan its practice. With --tune all, one line a tune.",
    )
    arranging.add_arrangement_options(command)
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    with json_results(args.json, many=args.tune == choosing.ALL) as printed:
        return _each(args, printed)


def _each(args: argparse.Namespace, printed: JsonResults | None) -> int:
    from reedwright.tab.difficulty.grade import difficulty
    from reedwright.tab.difficulty.hardest import hardest_bars
    from reedwright.tab.difficulty.moments import account_of
    from reedwright.tab.difficulty.practice import plan_report, plan_text, practice_plan
    from reedwright.tab.difficulty.report import (
        difficulty_line,
        difficulty_report,
        difficulty_text,
    )

    choosing.check_choices(args)
    for tune in choosing.chosen_tunes(args):
        with choosing.one_of_many(args, tune):
            arrangement = arranging.arrangement(args, tune)
            account = account_of(arrangement)
            found = difficulty(arrangement, account)
            if args.tune == choosing.ALL and printed is None:
                print(difficulty_line(arrangement, found))
                continue
            hardest = hardest_bars(arrangement, account=account)
            plan = practice_plan(arrangement, account)
            if printed is not None:
                report = difficulty_report(arrangement, found, hardest)
                printed.add({**report, "practice_plan": plan_report(plan)})
            else:
                width = shutil.get_terminal_size().columns
                print(difficulty_text(arrangement, found, hardest, width))
                print(f"\nHow to practise it\n{plan_text(plan, width)}")
    return choosing.status(args)
