"""The `reedwright` command: finds the subcommand, and turns errors into one clear line."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from reedwright import __version__
from reedwright.cli import (
    book,
    choose,
    find,
    grade,
    harp,
    harps,
    pack,
    player,
    read,
    serve,
    sets,
    tab,
    take,
    transcribe,
    tunings,
    valves,
)
from reedwright.cli.bench import group as bench
from reedwright.cli.shelf import group as shelf
from reedwright.errors import ReedwrightError

COMMANDS = (
    read,
    harp,
    harps,
    tunings,
    player,
    tab,
    choose,
    grade,
    valves,
    pack,
    take,
    transcribe,
    find,
    bench,
    shelf,
    sets,
    book,
    serve,
)
STOPPED = 130  # the shell's usual status after Ctrl-C


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = argparse.ArgumentParser(
        prog="reedwright",
        description="From a dance tune to a finished lesson for the ten-hole harmonica.",
        epilog="`reedwright COMMAND --help` tells all about one command.",
    )
    top.add_argument("--version", action="version", version=f"reedwright {__version__}")
    commands = top.add_subparsers(metavar="COMMAND", required=True)
    for module in COMMANDS:
        module.add_command(commands)
    return top


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit status."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")  # a terminal without arrows shows "?" instead
    args = parser().parse_args(arguments)
    try:
        status: int = args.run(args)
        if sys.stdout is not None:  # None where it was closed
            sys.stdout.flush()
    except ReedwrightError as error:
        print(f"reedwright: {error}", file=sys.stderr)
        return 1
    except BrokenPipeError:
        # The reader of our output (`head`, a pager) has gone; that is no error of ours.
        _output_to_nowhere()
        return 0
    except OSError as error:
        if error.filename is not None:
            raise
        # The rooms turn what the system refuses into errors of ours; left is our own output.
        _output_to_nowhere()
        print(f"reedwright: the output cannot be written ({error.strerror}).", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nreedwright: stopped; nothing half made was left behind.", file=sys.stderr)
        return STOPPED
    return status


def _output_to_nowhere() -> None:
    """So that Python does not try to write the rest when it ends."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


if __name__ == "__main__":
    sys.exit(main())
