"""`reedwright shelf show`, `states`, `contents`: what an item says, has said, and belongs to."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.output import print_json
from reedwright.cli.shelf import options

if TYPE_CHECKING:
    from reedwright.shelf.keeping.shelf import Shelf
    from reedwright.shelf.model import Item


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    show = what.add_parser(
        "show",
        help="show an item and what belongs to it",
        description="Show what an item says, and what belongs to it: of a tune its arrangements, "
        "takes, packs, lessons, lists and settings.",
    )
    show.add_argument("item", metavar="N", help="its number on the shelf, or a tune's title")
    options.add_shelf_option(show)
    choosing.add_json_option(show)
    show.set_defaults(run=_show)

    states = what.add_parser(
        "states",
        help="every state that an item has had",
        description="List the states of an item; * marks the present one. --state N shows one.",
    )
    states.add_argument("item", metavar="N", help="its number on the shelf, or a tune's title")
    states.add_argument("--state", metavar="N", type=choosing.positive, help="what it said then")
    states.add_argument("--go-to", metavar="N", type=choosing.positive, help="back to that state")
    options.add_shelf_option(states)
    choosing.add_json_option(states)
    states.set_defaults(run=_states)

    contents = what.add_parser(
        "contents",
        help="how much of what is on the shelf",
        description="Count what is on the shelf, and say where the shelf is.",
    )
    contents.add_argument("--kind", metavar="KIND", help="list all of this kind: take, profile...")
    contents.add_argument("--removed", action="store_true", help="what was taken off")
    options.add_shelf_option(contents)
    choosing.add_json_option(contents)
    contents.set_defaults(run=_contents)


def _show(args: argparse.Namespace) -> int:
    with options.opened(args) as shelf:
        item = options.any_item(shelf, args.item)
        belongs = _belongs(shelf, item)
        if args.json:
            print_json(
                options.item_report(item)
                | {"belongs": [options.item_report(each) for each in belongs]}
            )
            return 0
        print(options.item_line(item).strip())
        state = item.state
        said = f", {state.said}" if state.said else ""
        print(f"State {state.number} of {len(shelf.states(item.id))}{said}, {state.at:%Y-%m-%d}.")
        for key, value in sorted(state.about.items()):
            if "\n" not in str(value):
                print(f"{key}: {value}")
        print()
        print(state.text.rstrip() if state.text else f"A file ({state.form.value}).")
        if belongs:
            print()
            for each in belongs:
                print(options.item_line(each))
    return 0


def _belongs(shelf: Shelf, item: Item) -> list[Item]:
    from reedwright.shelf.model import Kind

    ids = [link.item for link in shelf.linked_to(item.id)]
    ids += [link.to for link in shelf.links(item.id)]
    if item.kind is Kind.TUNE:
        from reedwright.shelf.likenesses.deciding import settings_of

        ids += [each for each in settings_of(shelf, item.id) if each != item.id]
    found = [shelf.item(each) for each in dict.fromkeys(ids)]
    return [each for each in found if not each.removed]


def _states(args: argparse.Namespace) -> int:
    from reedwright.errors import ReedwrightError
    from reedwright.shelf.changing import go_to

    with options.opened(args) as shelf:
        item = options.any_item(shelf, args.item)
        if args.go_to is not None:
            item = go_to(shelf, item.id, args.go_to)
        states = shelf.states(item.id)
        if args.state is not None:
            one = next((each for each in states if each.number == args.state), None)
            if one is None:
                raise ReedwrightError(
                    f"{item.name} has no state {args.state}; its last is {states[-1].number}."
                )
            states = (one,)
        if args.json:
            print_json([options.state_report(each) for each in states])
        elif args.state is not None:
            print(states[0].text.rstrip() or f"A file ({states[0].form.value}).")
        else:
            for each in states:
                now = "*" if each.number == item.state.number else " "
                made = f"from {each.parent}" if each.parent else "first"
                print(f"{now} {each.number:>3}  {each.at:%Y-%m-%d %H:%M}  {made:<8}  {each.said}")
    return 0


def _contents(args: argparse.Namespace) -> int:
    from reedwright.datafiles import did_you_mean
    from reedwright.errors import ReedwrightError
    from reedwright.shelf.model import Kind

    kinds = [each.value for each in Kind]
    if args.kind is not None and args.kind not in kinds:
        raise ReedwrightError(
            f"--kind {args.kind}: choose one of {', '.join(kinds)}{did_you_mean(args.kind, kinds)}."
        )
    with options.opened(args) as shelf:
        if args.kind is not None or args.removed:
            kind = Kind(args.kind) if args.kind else None
            found = list(shelf.items(kind, args.removed))
            if args.json:
                print_json([options.item_report(each) for each in found])
            for each in found if not args.json else ():
                print(options.item_line(each))
            return 0
        counts = shelf.counts()
        if args.json:
            print_json(
                {"folder": str(shelf.folder), "counts": {k.value: n for k, n in counts.items()}}
            )
            return 0
        print(f"The shelf in {shelf.folder} holds:")
        for kind, count in counts.items():
            print(f"  {count:>7}  {kind.value}{'' if count == 1 else 's'}")
        if not counts:
            print("  nothing yet. `reedwright shelf import` takes tunes in.")
    return 0
