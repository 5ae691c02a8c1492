"""`reedwright shelf lesson`, `list`: what was taught to whom, and tunes put together."""

from __future__ import annotations

import argparse
from datetime import date

from reedwright.cli import choosing, shelved
from reedwright.cli.output import print_json
from reedwright.cli.shelf import options


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    lesson = what.add_parser(
        "lesson",
        help="note a lesson: to whom, which tunes, in your own words",
        description="Note a lesson that was given. Without tunes and words, list the lessons.",
    )
    lesson.add_argument("whom", metavar="WHOM", nargs="?", help="any words: 'Tuesday group'")
    lesson.add_argument("tunes", metavar="TUNE", nargs="*", help="numbers or titles")
    lesson.add_argument("--words", metavar="TEXT", default="", help="what was done, free text")
    lesson.add_argument("--on", metavar="YYYY-MM-DD", type=_day, help="the day (default today)")
    options.add_shelf_option(lesson)
    choosing.add_json_option(lesson)
    lesson.set_defaults(run=_lesson)

    list_ = what.add_parser(
        "list",
        help="make, change or show a list of tunes",
        description="Put tunes together under a name: a course, a repertoire, a set. Without "
        "tunes, show the list; without a name, all lists. `find --list-as NAME` makes one, too.",
    )
    list_.add_argument("name", metavar="NAME", nargs="?", help="'Tuesday beginners'")
    list_.add_argument("tunes", metavar="TUNE", nargs="*", help="numbers or titles, in order")
    list_.add_argument(
        "--add", action="store_true", help="add the tunes at the end instead of replacing"
    )
    list_.add_argument("--drop", action="store_true", help="take these tunes out")
    options.add_shelf_option(list_)
    choosing.add_json_option(list_)
    list_.set_defaults(run=_list)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no day; give it as 2026-11-28") from None


def _lesson(args: argparse.Namespace) -> int:
    from reedwright.shelf.belongings.lessons import add_lesson, tunes_of
    from reedwright.shelf.belongings.naming import named_tunes
    from reedwright.shelf.model import Kind

    with options.opened(args) as shelf:
        if args.whom is not None and (args.tunes or args.words):
            tunes = [item.id for item in named_tunes(shelf, args.tunes)]
            found = [add_lesson(shelf, args.whom, tunes, args.words, args.on)]
        else:
            wanted = (args.whom or "").casefold()
            found = [each for each in shelf.items(Kind.LESSON) if wanted in each.name.casefold()]
        if args.json:
            print_json(
                [
                    options.item_report(each)
                    | {"tunes": [tune.id for tune in tunes_of(shelf, each.id)]}
                    for each in found
                ]
            )
            return 0
        for each in found:
            print(f"{each.id:>6}  {each.state.about.get('date', '')}  {each.name}")
            for tune in tunes_of(shelf, each.id):
                print(f"              {tune.name} ({tune.id})")
            if each.state.text:
                print(f"              {each.state.text}")
        if not found:
            print("No lessons are noted.")
    return 0


def _list(args: argparse.Namespace) -> int:
    from reedwright.errors import ReedwrightError
    from reedwright.shelf.belongings.lessons import tunes_of
    from reedwright.shelf.belongings.lists import keep_list
    from reedwright.shelf.belongings.naming import named_item, named_tunes
    from reedwright.shelf.model import Kind
    from reedwright.tab.words import counted

    with options.opened(args) as shelf:
        if args.name is None:
            lists = list(shelf.items(Kind.LIST))
            if args.json:
                print_json([options.item_report(each) for each in lists])
            for each in lists if not args.json else ():
                print(
                    f"{each.id:>6}  {each.name}: {counted(len(tunes_of(shelf, each.id)), 'tune')}"
                )
            if not lists and not args.json:
                print("There are no lists.")
            return 0
        if args.tunes:
            named = named_tunes(shelf, args.tunes)
            if args.add or args.drop:
                if args.add and args.drop:
                    raise ReedwrightError(
                        "--add and --drop are two things; do one after the other."
                    )
                there = tunes_of(shelf, named_item(shelf, args.name, Kind.LIST).id)
                named = (
                    (*there, *named)
                    if args.add
                    else tuple(each for each in there if each not in named)
                )
            item = keep_list(shelf, args.name, named)
        else:
            item = named_item(shelf, args.name, Kind.LIST)
        tunes = tunes_of(shelf, item.id)
        shelved.tell_of_gone(shelf, item)
        if args.json:
            print_json(options.item_report(item) | {"tunes": [tune.id for tune in tunes]})
        else:
            print(f"{item.name} ({item.kind.value} {item.id})")
            for tune in tunes:
                print(options.item_line(tune))
    return 0
