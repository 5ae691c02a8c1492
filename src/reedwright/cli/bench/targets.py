"""`reedwright bench targets` and `beats`: what each reed is to sound, what pairs of them do."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.bench import options
from reedwright.cli.output import print_json
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.harp.model import Reed


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    targets = what.add_parser(
        "targets",
        help="what each reed is to sound, in cents and Hz",
        description="Print the target of every reed of a harp: as it is to sound when played, "
        "and what to tune to at the bench. Without HARP, list the temperaments.",
    )
    targets.add_argument("harp", metavar="HARP", nargs="?", help=options.HARP_HELP)
    options.add_tuning_and_valves(targets)
    options.add_targets(targets)
    choosing.add_json_option(targets)
    targets.set_defaults(run=_targets)

    beats = what.add_parser(
        "beats",
        help="how fast reeds beat that are played together",
        description="Print the beats of every two reeds that are played together: neighbours, "
        "octaves, chords. With --pair and --rate, tell where one reed goes so that the two beat "
        "so fast.",
    )
    options.add_harp(beats)
    options.add_targets(beats)
    beats.add_argument("--pair", metavar="REEDS", help="two reeds, such as 'blow 1 4'")
    beats.add_argument(
        "--rate", type=options.number, metavar="HZ", help="beats a second that the pair is to have"
    )
    beats.add_argument(
        "--move", metavar="REED", help="which of the two is moved, 'blow 4' (default: the higher)"
    )
    choosing.add_json_option(beats)
    beats.set_defaults(run=_beats)


def _targets(args: argparse.Namespace) -> int:
    from reedwright.workshop.targets.finding import all_reed_temperaments
    from reedwright.workshop.targets.report import targets_report, temperaments_report
    from reedwright.workshop.targets.text import targets_text, temperaments_text

    if args.harp is None:
        known = all_reed_temperaments().values()
        if args.json:
            print_json(temperaments_report(known))
        else:
            print(temperaments_text(known))
        return 0
    found = options.targets_of(args)
    if args.json:
        print_json(targets_report(found))
    else:
        print(targets_text(found))
    return 0


def _beats(args: argparse.Namespace) -> int:
    from reedwright.workshop.targets.report import answers_report, beats_report, pair_report
    from reedwright.workshop.targets.text import answers_text, beats_text, pair_text

    if args.rate is not None and args.pair is None:
        raise ReedwrightError("--rate is about one pair of reeds; say which with --pair.")
    if args.move is not None and args.rate is None:
        raise ReedwrightError(
            "--move says which reed is set; say with --rate how fast the pair is to beat."
        )
    found = options.targets_of(args)
    if args.pair is None:
        if args.json:
            print_json(beats_report(found))
        else:
            print(beats_text(found))
        return 0
    from reedwright.workshop.targets.beating import beat_answers
    from reedwright.workshop.targets.beats import beats_of, parse_pair

    pair = parse_pair(args.pair, found.harp)
    now = beats_of(found, *pair)
    if args.rate is None:
        if args.json:
            print_json(pair_report(found, now))
        else:
            print(pair_text(found, now))
        return 0
    moved = now.upper if args.move is None else _one_reed(args.move, pair)
    answers = beat_answers(found, pair, args.rate, moved)
    if args.json:
        print_json(answers_report(found, answers))
    else:
        print(answers_text(found, answers))
    return 0


def _one_reed(text: str, pair: tuple[Reed, Reed]) -> Reed:
    names = {f"{reed.hole} {reed.breath}": reed for reed in pair}
    names |= {f"{reed.breath} {reed.hole}": reed for reed in pair}
    wanted = " ".join(text.lower().split())
    if wanted not in names:
        each = " or ".join(f"'{reed.breath} {reed.hole}'" for reed in pair)
        raise ReedwrightError(f"--move: '{text}' is none of the pair; write {each}.")
    return names[wanted]
