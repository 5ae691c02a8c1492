"""`reedwright shelf keep`, `harps`: what belongs to a tune or to its player."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing, shelved
from reedwright.cli.output import print_json
from reedwright.cli.shelf import options
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.shelf.keeping.shelf import Shelf
    from reedwright.shelf.model import Item


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    keep = what.add_parser(
        "keep",
        help="keep a take, a pack, an arrangement or a profile",
        description="Keep a file: with TUNE a recording of it (sound file), a pack (the zip) or an "
        "arrangement (.arrangement.toml); without, a player's profile (.toml).",
    )
    keep.add_argument("file", metavar="FILE", type=Path)
    keep.add_argument("tune", metavar="TUNE", nargs="?", help="number or title of the tune")
    keep.add_argument("--played-by", metavar="NAME", default="", help="who plays in the take")
    options.add_shelf_option(keep)
    choosing.add_json_option(keep)
    keep.set_defaults(run=_keep)

    get = what.add_parser(
        "get",
        help="write a kept item out as a file again",
        description="Write an item's present state to a file, as it was kept.",
    )
    get.add_argument("item", metavar="N", help="its number on the shelf, or a tune's title")
    get.add_argument("--out", metavar="FILE", type=Path, required=True)
    options.add_shelf_option(get)
    get.set_defaults(run=_get)

    harps = what.add_parser(
        "harps",
        help="the harps you own, with what was measured and done",
        description="List the harps on the shelf, or add one. Histories that the bench keeps are "
        "taken in each time.",
    )
    harps.add_argument("name", metavar="NAME", nargs="?", help="your name for it: 'red G'")
    harps.add_argument("--harp", metavar="HARP", help="what harp it is: G:richter:half")
    harps.add_argument(
        "--lay-out",
        action="store_true",
        help="write the histories of harps that the bench has lost into its folder",
    )
    options.add_shelf_option(harps)
    choosing.add_json_option(harps)
    harps.set_defaults(run=_harps)


def _keep(args: argparse.Namespace) -> int:
    with options.opened(args, make=True) as shelf:
        item = _kept(args, shelf)
        if args.json:
            print_json(options.item_report(item))
        else:
            print(f"Kept as {item.kind.value} {item.id}: {item.name}.")
    return 0


def _kept(args: argparse.Namespace, shelf: Shelf) -> Item:
    from reedwright.shelf.belongings.arrangements import arrangement_from_file
    from reedwright.shelf.belongings.files import keep_pack, keep_take
    from reedwright.shelf.belongings.naming import named_item
    from reedwright.shelf.belongings.profiles import keep_profile
    from reedwright.shelf.model import Kind

    ending = args.file.suffix.lower()
    if args.tune is None:
        if ending != ".toml":
            raise ReedwrightError(f"{args.file}: say which tune it belongs to, by number or title.")
        return keep_profile(shelf, args.file)
    tune = named_item(shelf, args.tune, Kind.TUNE)
    if ending == ".toml":
        return arrangement_from_file(shelf, tune.id, args.file)
    if ending == ".zip":
        return keep_pack(shelf, tune.id, args.file)
    return keep_take(shelf, tune.id, args.file, args.played_by)


def _get(args: argparse.Namespace) -> int:
    from reedwright.files import write_whole

    with options.opened(args) as shelf:
        item = options.any_item(shelf, args.item)
        state = item.state
        content = (
            shelf.attachments.read(state.attachment) if state.attachment else state.text.encode()
        )
        write_whole(args.out, content)
        print(f"{item.name}: written to {args.out}.")
    return 0


def _harps(args: argparse.Namespace) -> int:
    from reedwright.shelf.belongings.from_bench import take_in_bench
    from reedwright.shelf.belongings.harps import (
        harps_on,
        history_on,
        keep_harp,
        lay_out_for_bench,
    )

    if (args.name is None) != (args.harp is None):
        raise ReedwrightError("A harp is added by its name and what it is: 'red G' --harp G.")
    with options.opened(args, make=True) as shelf:
        if args.name is not None:
            keep_harp(shelf, args.name, args.harp)
        if not shelf.read_only:
            take_in_bench(shelf)
        if args.lay_out:
            for path in lay_out_for_bench(shelf):
                choosing.tell(f"{path}: written from the shelf.")
        owned = harps_on(shelf)
        if args.json:
            print_json([options.item_report(item) | {"harp": harp.name} for item, harp in owned])
            return 0
        if not owned:
            print(shelved.NO_HARPS)
        for item, harp in owned:
            entries = len(history_on(shelf, item.id).entries)
            many = (
                "no entries" if not entries else f"{entries} entries" if entries > 1 else "1 entry"
            )
            print(f"{item.id:>6}  {item.name}: {harp.name}, {many} of the bench")
    return 0
