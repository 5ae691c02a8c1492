"""The group `reedwright shelf` and its commands."""

from __future__ import annotations

import argparse

from reedwright.cli.shelf import (
    belongings,
    changing,
    filling,
    finding,
    lessons,
    safety,
    settings,
    showing,
)

PARTS = (filling, finding, showing, changing, settings, belongings, lessons, safety)


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    group = commands.add_parser(
        "shelf",
        help="the library of tunes: take in, find, change, keep, back up",
        description="Keep tunes and all that belongs to them: arrangements, takes, packs, lessons, "
        "lists, the harps you own. Every change can be undone. Other commands take tunes from the "
        "shelf where they ask for a file: shelf:12, or shelf: and a title or the name of a list.",
        epilog="The shelf is a folder of its own; --shelf DIR or REEDWRIGHT_SHELF says which. "
        "`reedwright shelf WHAT --help` tells all about one.",
    )
    what = group.add_subparsers(metavar="WHAT", required=True)
    for module in PARTS:
        module.add_commands(what)
