"""`reedwright shelf import`, `grade`: tunes taken in, and how hard they are worked out."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.output import Progress, print_json
from reedwright.cli.shelf import options
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.shelf.keeping.shelf import Shelf
    from reedwright.shelf.model import Item


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    take_in = what.add_parser(
        "import",
        help="take in tunes: files, folders, zips",
        description="Take in tunes from files of ABC, MusicXML or MIDI, folders of them (however "
        "deep) and zips. What is on the shelf already is not taken in twice; tunes that seem to be "
        "settings of others are told of, and `settings` lists them.",
    )
    take_in.add_argument("places", metavar="PLACE", nargs="+", type=Path)
    take_in.add_argument(
        "--update",
        action="store_true",
        help="a tune whose file says otherwise now gets a new state, instead of being offered",
    )
    take_in.add_argument(
        "--report", metavar="FILE", type=Path, help="write down what became of every tune"
    )
    options.add_shelf_option(take_in)
    choosing.add_json_option(take_in)
    take_in.set_defaults(run=_import)

    grade = what.add_parser(
        "grade",
        help="work out how hard the tunes are, for `find --grade`",
        description="Work out for each tune the harp it lies best on and how hard it is there. "
        "What is known already is not done again; Ctrl-C stops it and keeps what is done.",
    )
    choosing.add_player_option(grade)
    options.add_shelf_option(grade)
    grade.set_defaults(run=_grade)


def _import(args: argparse.Namespace) -> int:
    from reedwright.shelf.filling.importing import ImportOptions, import_tunes
    from reedwright.shelf.filling.report import report_json, report_text, write_report
    from reedwright.shelf.finding.melodies import MOST_APART, prepare
    from reedwright.tab.words import counted

    with options.opened(args, make=True) as shelf, Progress() as progress:
        report = import_tunes(shelf, args.places, ImportOptions(update=args.update), progress)
        arranged, trouble = _arrangements(shelf, args.places)
        if len(report.added) > MOST_APART:
            progress(1.0, "making ready for searches")
            prepare(shelf)
    if args.report is not None:
        write_report(report, args.report)
    if args.json:
        print_json(report_json(report) | {"arrangements": len(arranged)})
    else:
        print(report_text(report))
        if arranged:
            print(f"{counted(len(arranged), 'arrangement')} taken in from the files beside them.")
    if trouble:
        choosing.tell(f"the tunes are on the shelf; an arrangement file is not: {trouble}")
    return 1 if report.refused or trouble else 0


def _arrangements(shelf: Shelf, places: Sequence[Path]) -> tuple[tuple[Item, ...], str]:
    """Those that came in with the tunes, and what is wrong with a file of them."""
    from reedwright.shelf.belongings.arrangements import take_in_arrangements

    try:
        return take_in_arrangements(shelf, places), ""
    except ReedwrightError as error:
        return (), str(error)


def _grade(args: argparse.Namespace) -> int:
    from reedwright.shelf.facts.grades import grade_tunes

    with options.opened(args) as shelf, Progress() as progress:
        done = grade_tunes(shelf, choosing.player(args), progress)
    print(f"{done} tunes were graded.")
    return 0
