"""The group `reedwright bench` and its commands."""

from __future__ import annotations

import argparse

from reedwright.cli.bench import history, measure, paper, plan, targets, valves

PARTS = (plan, targets, valves, measure, history, paper)


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    group = commands.add_parser(
        "bench",
        help="reed work: plans, targets, valves, measuring, history, paper",
        description="Everything for the bench: what each reed is to sound, how to make another "
        "tuning from a harp that can be bought, which valves, what the reeds do sound, and the "
        "sheets, labels and cards that go with it.",
        epilog="Reed work has its dangers: the sheets print the cautions. "
        "`reedwright bench WHAT --help` tells all about one.",
    )
    what = group.add_subparsers(metavar="WHAT", required=True)
    for module in PARTS:
        module.add_commands(what)
