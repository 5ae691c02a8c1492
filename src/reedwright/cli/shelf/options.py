"""What the commands of the shelf share: which shelf, which item, how an item is told."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing

if TYPE_CHECKING:
    from reedwright.shelf.keeping.shelf import Shelf
    from reedwright.shelf.model import Item, State


def add_shelf_option(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--shelf", metavar="DIR", type=Path, help="the shelf's folder (default: one for all)"
    )


def opened(args: argparse.Namespace, make: bool = False) -> Shelf:
    """The shelf that is meant; `make`: made where there is none yet."""
    from reedwright.shelf.keeping.opening import open_shelf

    shelf = open_shelf(args.shelf, make=make)
    if shelf.read_only:
        choosing.tell(f"{shelf.folder}: can only be read; nothing on it can be changed.")
    return shelf


def any_item(shelf: Shelf, called: str) -> Item:
    """An item of any kind by number; a tune by its title, too."""
    from reedwright.shelf.belongings.naming import named_item
    from reedwright.shelf.model import Kind

    bare = called.removeprefix("#")
    return shelf.item(int(bare)) if bare.isdecimal() else named_item(shelf, called, Kind.TUNE)


def item_line(item: Item) -> str:
    """`  12  tune         The Reedmaker's Latch`."""
    gone = "  (taken off the shelf)" if item.removed else ""
    return f"{item.id:>6}  {item.kind.value:<11}  {item.name}{gone}"


def item_report(item: Item) -> dict[str, object]:
    """JSON-ready; the shape is in docs/formats.md."""
    return {
        "number": item.id,
        "uid": item.uid,
        "kind": item.kind.value,
        "name": item.name,
        "removed": item.removed,
        "state": state_report(item.state),
    }


def state_report(state: State) -> dict[str, object]:
    return {
        "number": state.number,
        "made_from": state.parent or None,
        "at": state.at.isoformat(timespec="seconds"),
        "said": state.said,
        "form": state.form.value,
        "text": state.text,
        "attachment": state.attachment or None,
        "about": dict(state.about),
    }
