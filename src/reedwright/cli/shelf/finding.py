"""`reedwright shelf find`: tunes by words, by what they are, by how they go."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from reedwright.cli import choosing, shelved
from reedwright.cli.output import print_json
from reedwright.cli.shelf import options, wanting
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.shelf.finding.model import Answer, Wanted
    from reedwright.shelf.keeping.shelf import Shelf

DEFAULT_LIMIT = 20
EVERY = 1_000_000  # tunes: for lists of all that is found


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    find = what.add_parser(
        "find",
        help="find tunes: by words, by what they are, by notes, by likeness",
        description="Find tunes on the shelf. Typing errors are forgiven, accents and 'the' do not "
        "matter. All that is said must hold.",
    )
    wanting.add_wanted_options(find)
    find.add_argument(
        "--limit",
        type=choosing.positive,
        default=DEFAULT_LIMIT,
        metavar="N",
        help=f"how many to show (default {DEFAULT_LIMIT})",
    )
    find.add_argument("--list-as", metavar="NAME", help="make a list of all that is found")
    options.add_shelf_option(find)
    choosing.add_json_option(find)
    find.set_defaults(run=_find)


def _find(args: argparse.Namespace) -> int:
    from reedwright.shelf.finding.searching import search
    from reedwright.shelf.finding.text import answer_report, answer_text

    with options.opened(args) as shelf:
        asked = with_owned(args, shelf, wanting.wanted(args, args.limit))
        answer = search(shelf, asked)
        if args.list_as is not None:
            _keep(args, shelf, search(shelf, replace(asked, limit=EVERY)))
    if args.json:
        print_json(answer_report(answer))
    else:
        print(answer_text(answer))
    return 0


def with_owned(args: argparse.Namespace, shelf: Shelf, asked: Wanted) -> Wanted:
    """With the harps on the shelf, where `--owned` asks for them."""
    if not args.owned:
        return asked
    from reedwright.shelf.belongings.harps import harps_on

    owned = tuple(dict.fromkeys(harp for _, harp in harps_on(shelf)))
    if not owned:
        raise ReedwrightError(shelved.NO_HARPS)
    return replace(asked, plain_on=(*asked.plain_on, *owned))


def _keep(args: argparse.Namespace, shelf: Shelf, answer: Answer) -> None:
    from reedwright.shelf.belongings.lists import keep_list

    if not answer.hits:
        raise ReedwrightError("Nothing is found, so there is nothing to make a list of.")
    kept = keep_list(shelf, args.list_as, [shelf.item(hit.item) for hit in answer.hits])
    choosing.tell(f"'{kept.name}' is a list of {len(answer.hits)} tunes now.")
