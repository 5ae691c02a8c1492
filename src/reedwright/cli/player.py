"""`reedwright player`: the profiles of players, listed, shown, made, changed."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.output import print_json
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.player.writing import Changes

NONE, ANY = "none", "any"


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "player",
        help="list, show, make and change the profiles of players",
        description="List the profiles of players: what each can do and owns. A profile of your "
        "own, or of a student or a class, is a small file that `new` and `class` make.",
        epilog="docs/players.md tells how to make a profile that fits.",
    )
    choosing.add_json_option(command)
    command.set_defaults(run=run)
    what = command.add_subparsers(metavar="WHAT")
    show = what.add_parser("show", help="techniques, harps, lungs and weights of one profile")
    show.add_argument("name", metavar="NAME", help="name or file of a profile")
    show.add_argument(
        "--all", action="store_true", help="every weight, not only those that differ from the base"
    )
    # Without a default of its own, so that `player --json show NAME` is heard too.
    show.add_argument(
        "--json", action="store_true", default=argparse.SUPPRESS, help="the same as JSON"
    )
    show.set_defaults(run=_show)

    new = what.add_parser("new", help="make a profile of your own")
    new.add_argument("name", metavar="NAME", help="such as anna")
    new.add_argument(
        "--from",
        dest="source",
        default="player",
        metavar="PROFILE",
        help="what to start from, name or file (default player)",
    )
    _add_overwrite(new)
    _add_changes(new)
    new.set_defaults(run=_new)

    change = what.add_parser("change", help="change a profile of your own; comments stay")
    change.add_argument("name", metavar="NAME", help="name or file of a profile")
    _add_changes(change)
    change.add_argument(
        "--add-harp",
        action="append",
        default=[],
        metavar="HARP",
        help="one more harp that is owned; may be said again",
    )
    change.add_argument(
        "--drop-harp", action="append", default=[], metavar="HARP", help="a harp no longer owned"
    )
    change.add_argument(
        "--unset",
        action="append",
        default=[],
        metavar="WEIGHT",
        help="a weight that shall be as in the base again",
    )
    change.set_defaults(run=_change)

    group = what.add_parser("class", help="make the profile of a class: the weakest of several")
    group.add_argument("name", metavar="NAME", help="such as tuesday-class")
    group.add_argument(
        "--of", required=True, metavar="A,B,C", help="the profiles of those in the class"
    )
    _add_overwrite(group)
    _add_changes(group)
    group.set_defaults(run=_class)


def _add_overwrite(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--overwrite", action="store_true", help="replace a profile of your own of that name"
    )


def _add_changes(command: argparse.ArgumentParser) -> None:
    command.add_argument("--title", metavar="T", help="for people, such as 'Anna, second year'")
    command.add_argument("--description", metavar="D", help="a sentence about the player")
    command.add_argument(
        "--techniques", metavar="LIST", help="such as 'draw bend, blow bend'; none for plain notes"
    )
    command.add_argument(
        "--harps",
        metavar="LIST",
        help="what is owned: 'C, G:richter-raised-3-blow, low D'; any for no such list",
    )
    command.add_argument(
        "--set",
        dest="settings",
        action="append",
        default=[],
        metavar="WEIGHT=VALUE",
        help="such as leap_hole=0.6 or lungs.blow_rate=0.25; may be said again",
    )


def run(args: argparse.Namespace) -> int:
    from reedwright.player.describing import profile_lines, profile_row
    from reedwright.player.loading import origin, profile_files, read_profile

    found, failed = [], False
    for name, path in profile_files().items():
        try:
            found.append((read_profile(path), origin(name)))
        except ReedwrightError as error:
            choosing.tell(str(error))
            failed = True
    if args.json:
        print_json([profile_row(*each) for each in found])
    else:
        print("\n".join(profile_lines(found)))
    return 1 if failed else 0


def _show(args: argparse.Namespace) -> int:
    from reedwright.player.describing import profile_report, profile_text
    from reedwright.player.loading import load_profile, origin

    profile, made = load_profile(args.name), origin(args.name)
    if args.json:
        print_json(profile_report(profile, made))
    else:
        print(profile_text(profile, made, everything=args.all))
    return 0


def _new(args: argparse.Namespace) -> int:
    from reedwright.player.writing import new_profile

    return _done("made", new_profile(args.name, args.source, _changes(args), args.overwrite))


def _class(args: argparse.Namespace) -> int:
    from reedwright.player.writing import new_class

    members = [each.strip() for each in args.of.split(",") if each.strip()]
    return _done("made", new_class(args.name, members, _changes(args), args.overwrite))


def _change(args: argparse.Namespace) -> int:
    from reedwright.player.writing import change_profile

    changes = _changes(args)
    if changes.nothing:
        raise ReedwrightError(
            f"nothing to change in '{args.name}'; say what, such as --add-harp A "
            "(`reedwright player change --help` lists all)."
        )
    return _done("changed", change_profile(args.name, changes))


def _done(what: str, path: Path) -> int:
    from reedwright.player.describing import profile_lines
    from reedwright.player.loading import origin, read_profile

    print(profile_lines([(read_profile(path), origin(str(path)))])[0])
    print(f"Profile {what}: {path}")
    return 0


def _changes(args: argparse.Namespace) -> Changes:
    from reedwright.player.writing import Changes, parse_setting

    return Changes(
        title=args.title,
        description=args.description,
        techniques=_techniques(args.techniques),
        harps=_harps(args),
        values=dict(parse_setting(each) for each in args.settings),
        unset=tuple(getattr(args, "unset", ())),
    )


def _techniques(text: str | None) -> tuple[str, ...] | None:
    from reedwright.player.checking import techniques_of
    from reedwright.player.profile import TECHNIQUES

    if text is None:
        return None
    if text.strip().lower() in ("", NONE):
        return ()
    said = [" ".join(part.lower().split()) for part in text.split(",") if part.strip()]
    found = techniques_of("--techniques", said, frozenset())
    return tuple(each for each in TECHNIQUES if each in found)


def _harps(args: argparse.Namespace) -> tuple[str, ...] | None:
    """The whole list of harps after what is said; None where nothing is said of harps."""
    from reedwright.player.loading import load_profile
    from reedwright.tab.owned.harps import changed_harps

    add, drop = getattr(args, "add_harp", []), getattr(args, "drop_harp", [])
    if args.harps is None and not add and not drop:
        return None
    if args.harps is not None and args.harps.strip().lower() in ("", ANY):
        kept: tuple[str, ...] = ()
    elif args.harps is not None:
        kept = changed_harps((), (args.harps,))
    else:
        kept = load_profile(args.name).harps
    return changed_harps(kept, add, drop)
