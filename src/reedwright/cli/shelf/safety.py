"""`reedwright shelf check`, `backup`, `restore`, `export`, `bring-back`."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from reedwright.cli import choosing
from reedwright.cli.output import Progress, print_json
from reedwright.cli.shelf import options


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    check = what.add_parser(
        "check",
        help="verify that everything on the shelf is whole",
        description="Verify the file, every attachment, and all that is worked out from them.",
    )
    options.add_shelf_option(check)
    choosing.add_json_option(check)
    check.set_defaults(run=_check)
    for name, help_, run in (
        ("backup", "copy the shelf while it is in use", _backup),
        ("export", "write everything out as plain files", _export),
    ):
        out = what.add_parser(name, help=help_, description=f"{help_[:1].upper()}{help_[1:]}.")
        out.add_argument("to", metavar="DIR", type=Path, help="a folder that is not there yet")
        options.add_shelf_option(out)
        out.set_defaults(run=run)
    restore = what.add_parser(
        "restore",
        help="make a shelf of a backup",
        description="Make the shelf of a backup. A shelf that is there already is left alone: "
        "name another place with --shelf, or move it away first.",
    )
    restore.add_argument("backup", metavar="DIR", type=Path)
    options.add_shelf_option(restore)
    restore.set_defaults(run=_restore)
    bring = what.add_parser(
        "bring-back",
        help="bring back what `export` wrote",
        description="Bring back what `export` wrote. What is on the shelf already is not doubled; "
        "where the two differ, both are kept.",
    )
    bring.add_argument("folder", metavar="DIR", type=Path)
    options.add_shelf_option(bring)
    choosing.add_json_option(bring)
    bring.set_defaults(run=_bring_back)


def _check(args: argparse.Namespace) -> int:
    from reedwright.shelf.safety.checking import check

    with options.opened(args) as shelf, Progress() as progress:
        report = check(shelf, progress)
    if args.json:
        print_json(report.report())
    else:
        print(report.text())
    return 0 if report.whole else 1


def _backup(args: argparse.Namespace) -> int:
    from reedwright.shelf.safety.backing_up import back_up

    with options.opened(args) as shelf, Progress() as progress:
        report = back_up(shelf, args.to, progress)
    print(f"Backed up to {args.to}.")
    return _told(report.problems)


def _restore(args: argparse.Namespace) -> int:
    from reedwright.shelf.keeping.opening import shelf_folder
    from reedwright.shelf.safety.backing_up import restore

    place = args.shelf or shelf_folder()
    with Progress() as progress:
        restore(args.backup, place, progress)
    print(f"The shelf in {place} is made of {args.backup}.")
    return 0


def _export(args: argparse.Namespace) -> int:
    from reedwright.shelf.safety.exporting import export

    with options.opened(args) as shelf, Progress() as progress:
        report = export(shelf, args.to, progress)
    print(f"Written to {args.to}.")
    return _told(report.problems)


def _told(problems: Sequence[str]) -> int:
    """What could not be copied, a line each; the status that goes with it."""
    for problem in problems:
        choosing.tell(problem)
    return 1 if problems else 0


def _bring_back(args: argparse.Namespace) -> int:
    from reedwright.shelf.safety.bringing_back import bring_back

    with options.opened(args, make=True) as shelf, Progress() as progress:
        report = bring_back(args.folder, shelf, progress)
    if args.json:
        print_json(report.report())
    else:
        print(report.text())
    return 1 if report.problems else 0
