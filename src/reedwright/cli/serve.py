"""`reedwright serve`: all of it in the browser."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any


def add_command(commands: Any) -> None:
    command = commands.add_parser(
        "serve",
        help="everything on browser pages, from this machine",
        description="Serve Reedwright's pages on this machine, and open them in the browser.",
    )
    command.add_argument("--shelf", type=Path, metavar="DIR", help="the shelf (default: yours)")
    command.add_argument("--port", type=int, default=8420, help="default: 8420")
    command.add_argument(
        "--no-browser", action="store_true", help="only serve; open the page yourself"
    )
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from reedwright.web.serving import serve
    from reedwright.web.settings import Settings, usual_shelf

    settings = Settings(shelf=args.shelf or usual_shelf(), port=args.port)
    serve(settings, not args.no_browser, lambda text: print(text, file=sys.stderr))
    return 0
