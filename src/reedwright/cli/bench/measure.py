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
    from reedwright.harp.model import Harp
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
    command.add_argument(
        "--anyway", action="store_true", help="keep it though it sounds like another harp"
    )
    choosing.add_json_option(command)
    command.set_defaults(run=_run)


def _run(args: argparse.Namespace) -> int:
    from reedwright.workshop.measuring.reporting import measurement_report
    from reedwright.workshop.measuring.text import measurement_text

    history = _history(args)
    harp, now = _harps(args, history)
    measured = _measured(args, history, harp, now)
    kept = _kept(args, history, measured)
    if args.json:
        print_json(measurement_report(measured))
    else:
        print(measurement_text(measured))
    if kept is not None and not args.json:
        print(f"\nKept with {kept.name}: {kept.path}")
    return 1 if args.keep is not None and kept is None else 0


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


def _begun(args: argparse.Namespace) -> History:
    """The history of --keep, begun as what the harp is now."""
    from reedwright.workshop.history.keeping import open_history, start_history
    from reedwright.workshop.history.model import NoHistory

    try:  # another measurement may have begun it while this recording was listened to
        return open_history(args.keep)
    except NoHistory:
        is_now = args.now or options.harp_words(args.harp, args.tuning, args.valves)
        return start_history(args.keep, is_now)


def _harps(args: argparse.Namespace, history: History | None) -> tuple[Harp, Harp | None]:
    """The harp whose targets count, and the one that it still is, where that is another.

    What a history says of its harp is not overruled in passing: one mixed-up name would spoil it.
    """
    from reedwright.harp.making import parse_harp
    from reedwright.tab.words import with_article

    now = None if args.now is None else parse_harp(args.now)
    if history is None:
        return options.harp_of(args), now
    is_now = parse_harp(history.harp_now)
    harp = is_now if args.harp is None else options.harp_of(args)
    named = harp if now is None else now
    if not _alike(named, is_now):
        raise ReedwrightError(
            f"{history.name} is {with_article(is_now.name)}, not {with_article(named.name)}. If it "
            f"has been made one, say so first: `reedwright bench history '{history.name}' "
            f"--converted`. If it is to become one, add --now '{history.harp_now}'. If it is "
            "another harp, give it a name of its own."
        )
    return harp, now


def _alike(one: Harp, other: Harp) -> bool:
    """Whether the reeds are the same; valves make no other pitch."""
    return (one.tuning.blow, one.tuning.draw, one.transpose) == (
        other.tuning.blow,
        other.tuning.draw,
        other.transpose,
    )


def _measured(
    args: argparse.Namespace, history: History | None, harp: Harp, now: Harp | None
) -> Measurement:
    from reedwright.workshop.history.comparing import latest
    from reedwright.workshop.measuring.recording import measure_recording
    from reedwright.workshop.targets.making import reed_targets

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
            None if now is None else reed_targets(now),
            trouble=lambda trouble: choosing.tell(trouble.message),
        )


def _kept(
    args: argparse.Namespace, history: History | None, measured: Measurement
) -> History | None:
    """The history with this measurement added; None where none is wished, or it had better not."""
    from reedwright.tab.words import with_article
    from reedwright.workshop.history.keeping import add_measurement
    from reedwright.workshop.measuring.another_harp import better_key

    if args.keep is None:
        return None
    other = None if args.anyway else better_key(measured)
    if other is not None:
        said = measured.targets.harp
        choosing.tell(
            f"not kept with {args.keep}: it sounds like {with_article(other.name)}, not "
            f"{with_article(said.name)}. Was it another harp? --anyway keeps it all the same."
        )
        return None
    # Begun only now, so that a recording of no use begins none.
    return add_measurement(history or _begun(args), measured, args.when, args.note)
