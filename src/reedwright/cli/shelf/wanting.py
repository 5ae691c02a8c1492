"""Options that say which tunes of the shelf are wanted, for `shelf find` and others."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reedwright.shelf.finding.model import Wanted

_TEXTS = ("type", "key", "mode", "metre", "grade", "range", "harp", "taught_to", "list")


def add_wanted_options(command: argparse.ArgumentParser) -> None:
    """What `wanted` looks at; all that is said must hold."""
    command.add_argument("words", metavar="WORD", nargs="*", help="of the title or any other field")
    facts = command.add_argument_group("what the tune is")
    facts.add_argument("--type", metavar="TYPE", help="reel, jig... or several: 'reel, hornpipe'")
    facts.add_argument("--key", metavar="KEY", help="G, 'E dorian', or several: 'G, D'")
    facts.add_argument("--mode", metavar="MODE", help="dorian, minor...")
    facts.add_argument("--metre", metavar="METRE", help="6/8...")
    facts.add_argument(
        "--grade", metavar="FROM-TO", help="how hard: 2-4 (`shelf grade` works it out)"
    )
    facts.add_argument("--range", metavar="LOW-HIGH", help="the melody stays within: D4-B5")
    facts.add_argument(
        "--harp", metavar="LIST", help="one of these harps plays it with no bends: 'G, low D'"
    )
    facts.add_argument(
        "--owned", action="store_true", help="the same, for the harps that are on the shelf"
    )
    facts.add_argument("--player", metavar="PROFILE", help="whose grades (default player)")
    taught = facts.add_mutually_exclusive_group()
    taught.add_argument("--taught", action="store_const", const=True, help="stands in a lesson")
    taught.add_argument(
        "--not-taught", dest="taught", action="store_const", const=False, help="stands in none"
    )
    facts.add_argument("--taught-to", metavar="WHOM", help="stands in a lesson to them")
    facts.add_argument("--list", metavar="NAME", help="stands in this list")
    music = command.add_argument_group("how it goes")
    music.add_argument("--notes", metavar="ABC", help="notes in ABC, such as 'GABc d2B2'")
    music.add_argument("--in-key", metavar="KEY", help="the key that the notes are typed in")
    music.add_argument("--contour", metavar="SIGNS", help="ups and downs: *UUDRUD")
    music.add_argument("--like", metavar="N", help="like this tune of the shelf")


def wanted(args: argparse.Namespace, limit: int, offset: int = 0) -> Wanted:
    """What the options ask for. Raises `ReedwrightError` that names the option's value."""
    from dataclasses import replace

    from reedwright.shelf.finding.asking import wanted_from

    asked: dict[str, object] = {
        name: getattr(args, name) for name in _TEXTS if getattr(args, name) is not None
    }
    if args.words:
        asked["words"] = " ".join(args.words)
    for name, key in (("notes", "notes"), ("in_key", "notes_key"), ("contour", "contour")):
        if getattr(args, name) is not None:
            asked[key] = getattr(args, name)
    if args.player is not None:
        asked["player"] = args.player
    if args.taught is not None:
        asked["taught"] = args.taught
    if args.like is not None:
        asked["like"] = int(args.like) if args.like.isdecimal() else args.like
    return replace(wanted_from(asked), limit=limit, offset=offset)
