"""`reedwright serve`: all of it in the browser."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any


def add_command(commands: Any) -> None:
    command = commands.add_parser(
        "serve",
        help="all of it on browser pages, from this machine",
        description="Serve Reedwright's pages from this machine, and open them in the browser.",
    )
    command.add_argument(
        "--shelf", type=Path, metavar="DIR", help="the shelf to work on (default: yours)"
    )
    command.add_argument(
        "--made",
        type=Path,
        metavar="DIR",
        help="where packs and books are put (default: Reedwright in your documents)",
    )
    command.add_argument(
        "--port", type=_port, metavar="N", help="default: 8420, or the next that is free"
    )
    command.add_argument(
        "--listen",
        metavar="ADDRESS",
        default="127.0.0.1",
        help="let others on the network in, by this address of the machine, or 0.0.0.0 for all of "
        "its addresses; a token is made that they need (default: only this machine)",
    )
    command.add_argument(
        "--name",
        action="append",
        default=[],
        metavar="HOST",
        help="a name that browsers call this machine by; may be given several times",
    )
    command.add_argument(
        "--no-browser", action="store_true", help="only serve; open the page yourself"
    )
    command.set_defaults(run=run)


def _port(text: str) -> int:
    if not text.isdecimal() or int(text) > 65_535:
        raise argparse.ArgumentTypeError(f"{text!r} is no port; give a number from 0 to 65535")
    return int(text)


def run(args: argparse.Namespace) -> int:
    from reedwright.web.serving import serve
    from reedwright.web.settings import Settings, made_folder, usual_shelf

    settings = Settings(
        shelf=args.shelf or usual_shelf(),
        made=args.made or made_folder(),
        host=args.listen,
        hosts=tuple(args.name),
    )
    serve(settings, args.port, not args.no_browser, lambda text: print(text, file=sys.stderr))
    return 0
