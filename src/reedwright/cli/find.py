"""`reedwright find`: a tune found in a collection by a few of its notes."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.gathering import gathered
from reedwright.cli.output import Progress, print_json
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.tune.likeness.collection import Collection
    from reedwright.tune.likeness.model import Match, Query

DEFAULT_LIMIT = 5
_READING = 0.9  # share of the work, about


class NothingToSearch(ReedwrightError):
    """The collection named holds no tune that can be read."""


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "find",
        help="find a tune in a collection by a few notes, typed or played",
        description="Find the tune that a few notes come from, in files of tunes or folders of "
        "them. Key and speed do not matter, and a few notes may be wrong.",
    )
    asked = command.add_mutually_exclusive_group(required=True)
    asked.add_argument("--notes", metavar="ABC", help="notes in ABC, such as 'GABc d2B2'")
    asked.add_argument(
        "--contour", metavar="SIGNS", help="ups and downs in the Parsons code: *UUDRUD"
    )
    asked.add_argument("--take", metavar="FILE", type=Path, help="a recording of some of the tune")
    command.add_argument(
        "collections", metavar="COLLECTION", nargs="+", type=Path, help="file of tunes, or folder"
    )
    command.add_argument(
        "--key", help="key that the notes are typed in (default: C, G, D, A and F are tried)"
    )
    command.add_argument(
        "--from", dest="start", metavar="M:SS", type=moment, default=0.0, help="listen from there"
    )
    command.add_argument(
        "--to", dest="end", metavar="M:SS", type=moment, help="listen only up to there"
    )
    command.add_argument(
        "--limit",
        type=choosing.positive,
        default=DEFAULT_LIMIT,
        metavar="N",
        help=f"how many tunes to tell (default {DEFAULT_LIMIT})",
    )
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def moment(text: str) -> float:
    """Seconds from `12.5`, `1:03` or `1:03.5`."""
    minutes, colon, seconds = text.rpartition(":")
    try:
        found = (60 * int(minutes) if colon else 0) + float(seconds)
    except ValueError:
        found = -1.0
    if not 0 <= found < float("inf"):
        raise argparse.ArgumentTypeError(f"{text!r} is no time; give it as 0:12 or 12.5")
    return found


def run(args: argparse.Namespace) -> int:
    with Progress() as progress:
        queries = _queries(args, progress)
        collection = _collection(args, progress)
        matches = _matches(args, collection, queries)
    _tell(args, collection, matches)
    return choosing.status(args)


def _queries(args: argparse.Namespace, progress: Progress) -> tuple[Query, ...]:
    """Readings of the notes asked for; none where a contour is."""
    if args.contour is not None:
        from reedwright.tune.likeness.contour import checked_contour

        checked_contour(args.contour)
        return ()
    if args.take is None:
        from reedwright.tune.likeness.typed import typed_queries

        return typed_queries(args.notes, args.key)
    from reedwright.tab.words import counted
    from reedwright.takes.asking import queries_of
    from reedwright.takes.work import listen
    from reedwright.tune.likeness.model import FEWEST_NOTES, NotFindable

    if args.end is not None and args.end <= args.start:
        raise NotFindable("--to lies before --from: give a stretch such as --from 0:03 --to 0:12.")
    listened = listen(args.take, progress, args.start, args.end)
    heard = listened.heard
    for trouble in listened.troubles:
        choosing.tell(f"{args.take}: {trouble.message}")
    if len(heard.notes) < FEWEST_NOTES:
        raise NotFindable(
            f"{args.take}: {counted(len(heard.notes), 'note')} heard there; a tune is found by "
            f"{FEWEST_NOTES} at least. Choose another stretch with --from and --to."
        )
    return queries_of(heard)


def _collection(args: argparse.Namespace, progress: Progress) -> Collection:
    """All tunes of the files and folders that can be read."""
    from reedwright.tune.likeness.collection import build_collection

    tunes = gathered(args, args.collections, progress, _READING)
    collection = build_collection(tunes)
    if not len(collection.midi):
        raise NothingToSearch(
            f"{', '.join(map(str, args.collections))}: there is no tune to search in. "
            "Give files of ABC, MusicXML or MIDI, or folders of them."
        )
    return collection


def _matches(
    args: argparse.Namespace, collection: Collection, queries: tuple[Query, ...]
) -> list[Match]:
    from reedwright.tune.likeness.contour import find_contour
    from reedwright.tune.likeness.finding import find_any

    if not queries:
        return find_contour(collection, args.contour, args.limit)
    return find_any(collection, queries, args.limit)


def _tell(args: argparse.Namespace, collection: Collection, matches: list[Match]) -> None:
    from reedwright.tune.likeness.words import match_report, match_text

    if args.json:
        print_json(
            {"tunes": len(collection.tunes), "matches": [match_report(each) for each in matches]}
        )
        return
    if not matches:
        many = len(collection.tunes)
        print(f"Nothing in {many} {'tune' if many == 1 else 'tunes'} is like it.")
    for rank, match in enumerate(matches, start=1):
        print(match_text(match, rank))
