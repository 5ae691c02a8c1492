"""`reedwright shelf change`, `undo`, `redo`, `remove`, `put-back`: nothing of it is ever lost."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.output import print_json
from reedwright.cli.shelf import options

if TYPE_CHECKING:
    from reedwright.shelf.model import Item


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    change = _command(
        what,
        "change",
        "give an item a new state from a file, or another name",
        "The earlier states stay; `undo` goes back. A tune is changed by a file with one tune in "
        "it, anything else by a file of its form.",
        _change,
    )
    change.add_argument("file", metavar="FILE", type=Path, nargs="?", help="what it says now")
    change.add_argument("--name", metavar="NAME", help="what it is called now; not for tunes")
    change.add_argument("--said", metavar="WORDS", default="", help="what was done, in a few words")
    _command(what, "undo", "back to what an item was before its last change", "", _undo)
    _command(what, "redo", "forward again after undo", "", _redo)
    _command(
        what,
        "remove",
        "take an item off the shelf; it is kept",
        "It is no longer found or listed; `put-back` with its number brings it back.",
        _remove,
    )
    _command(what, "put-back", "put an item back that was taken off", "", _put_back)


def _command(
    what: argparse._SubParsersAction[argparse.ArgumentParser],
    name: str,
    help_: str,
    more: str,
    run: object,
) -> argparse.ArgumentParser:
    command = what.add_parser(
        name, help=help_, description=f"{help_[:1].upper()}{help_[1:]}. {more}".strip()
    )
    command.add_argument("item", metavar="N", help="its number on the shelf, or a tune's title")
    options.add_shelf_option(command)
    choosing.add_json_option(command)
    command.set_defaults(run=run)
    return command


def _change(args: argparse.Namespace) -> int:
    from reedwright.shelf.changing import change_from_file, rename

    with options.opened(args) as shelf:
        item = options.any_item(shelf, args.item)
        if args.file is not None:
            item = change_from_file(shelf, item.id, args.file, args.said)
        if args.name is not None or args.file is None:
            item = rename(shelf, item.id, args.name or "")
        _tell(args, item, "is changed")
    return 0


def _undo(args: argparse.Namespace) -> int:
    from reedwright.shelf.changing import undo

    with options.opened(args) as shelf:
        _tell(args, undo(shelf, options.any_item(shelf, args.item).id), "is back")
    return 0


def _redo(args: argparse.Namespace) -> int:
    from reedwright.shelf.changing import redo

    with options.opened(args) as shelf:
        _tell(args, redo(shelf, options.any_item(shelf, args.item).id), "is forward again")
    return 0


def _remove(args: argparse.Namespace) -> int:
    with options.opened(args) as shelf:
        item = options.any_item(shelf, args.item)
        shelf.remove(item.id)
        _tell(args, shelf.item(item.id), "is taken off the shelf")
    return 0


def _put_back(args: argparse.Namespace) -> int:
    with options.opened(args) as shelf:
        item = options.any_item(shelf, args.item)
        _tell(args, shelf.put_back(item.id), "is back on the shelf")
    return 0


def _tell(args: argparse.Namespace, item: Item, what: str) -> None:
    if args.json:
        print_json(options.item_report(item))
        return
    many = _many(item)
    print(f"{item.name} ({item.kind.value} {item.id}) {what}{many}.")


def _many(item: Item) -> str:
    said = f": {item.state.said}" if item.state.said else ""
    return f", at state {item.state.number}{said}"
