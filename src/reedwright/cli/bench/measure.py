"""`reedwright bench measure`: what the reeds sound, from a recording of them."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.bench import options
from reedwright.cli.output import Progress, print_json
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.workshop.history.model import History
    from reedwright.workshop.measuring.model import Measurement


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = what.add_parser(
        "measure",
        help="measure reeds from a recording",
        description="Listen to a recording of reeds played one after the other, in any order, "
        "some twice (or two together, for their beats), and tell for each how far it is from its "
        "target, how sure that is, how steady it is and how soon it speaks.",
    )
    command.add_argument("recording", type=Path, metavar="RECORDING")
    command.add_argument(
        "--harp", metavar="HARP", help=f"{options.HARP_HELP} (default: the harp of --keep)"
    )
    options.add_tuning_and_valves(command)
    options.add_targets(command)
    command.add_argument(
        "--now",
        metavar="HARP",
        help="what harp it still is, where reeds are not yet retuned (default: as --harp)",
    )
    command.add_argument(
        "--order",
        metavar="ORDER",
        help="in what order the reeds were played (default: found out): up, down, blow then "
        "draw, hole by hole, breath by breath, by pitch, shuffled, several with commas; or a "
        "list: 'blow 1-10, draw 1-10', '1b 1d 2b 2d'",
    )
    command.add_argument(
        "--played",
        action="store_true",
        help="it was played as in music: compare with the targets as played, not at the bench",
    )
    command.add_argument(
        "--keep",
        metavar="NAME",
        help="add to the history of this harp of your own, such as 'the red G'",
    )
    command.add_argument(
        "--when",
        choices=("before", "after", "check"),
        default="check",
        help="whether it was measured before the work, after it, or as a check (default)",
    )
    command.add_argument("--note", default="", metavar="TEXT", help="a note to keep with it")
    choosing.add_json_option(command)
    command.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from reedwright.workshop.history.keeping import add_measurement, start_history
    from reedwright.workshop.measuring.reporting import measurement_report
    from reedwright.workshop.measuring.text import measurement_text

    history = _history(args)
    measured = _measured(args, history)
    if args.keep is not None:
        if history is None:  # only now, so that a recording of no use begins none
            history = start_history(args.keep, harp_words(args, args.now or args.harp))
        add_measurement(history, measured, args.when, args.note)
    if args.json:
        print_json(measurement_report(measured))
    else:
        print(measurement_text(measured))
        if history is not None:
            print(f"\nKept with {history.name}: {history.path}")
    return 0


def _history(args: argparse.Namespace) -> History | None:
    """The history that this measurement is added to; None where there is none yet, or no --keep."""
    from reedwright.workshop.history.keeping import open_history
    from reedwright.workshop.history.model import NoHistory

    if args.keep is None:
        if args.harp is None:
            raise ReedwrightError(
                "Which harp is it? Say --harp, such as --harp G, or --keep with the name of a "
                "harp that has a history."
            )
        return None
    try:
        return open_history(args.keep)
    except NoHistory:
        if args.harp is None:
            raise
        return None


def harp_words(args: argparse.Namespace, text: str) -> str:
    """The harp as one text that `parse_harp` reads: key, tuning and valves with colons."""
    parts = [part.strip() for part in text.split(":")]
    parts += [""] * (3 - len(parts))
    parts[1] = parts[1] or args.tuning or ""
    parts[2] = parts[2] or args.valves or ""
    return ":".join(parts).rstrip(":")


def _measured(args: argparse.Namespace, history: History | None) -> Measurement:
    from reedwright.harp.making import parse_harp
    from reedwright.workshop.history.comparing import latest
    from reedwright.workshop.measuring.recording import measure_recording
    from reedwright.workshop.targets.making import reed_targets

    if args.harp is None:
        assert history is not None
        harp = parse_harp(history.harp_now)
    else:
        harp = options.harp_of(args)
    now = None if args.now is None else reed_targets(parse_harp(args.now))
    # What was heard of this harp before tells reeds of one note apart.
    before = None if history is None else latest(history, sure=True)
    with Progress() as progress:
        return measure_recording(
            args.recording,
            reed_targets(harp, options.wishes_of(args)),
            args.order,
            not args.played,
            progress,
            before,
            now,
            trouble=lambda trouble: choosing.tell(str(trouble.message)),
        )
