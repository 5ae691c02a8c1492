"""Options that the bench's commands share: which harp, how it is to be tuned, which paper."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.page.settings import PAPERS

if TYPE_CHECKING:
    from reedwright.harp.model import Harp
    from reedwright.workshop.targets.model import Targets, TargetWishes

HARP_HELP = "such as G, 'low D', G:richter-raised-3-blow, Bb:my-tuning.toml:half"


def number(text: str) -> float:
    """A number as people write it: 2.5 or, in much of Europe, 2,5."""
    try:
        return float(text.replace(",", "."))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no number such as 2.5") from None


def add_harp(command: argparse.ArgumentParser, many: bool = False) -> None:
    """The harp by place; `--tuning` and `--valves` for those that do not say it there."""
    if many:
        command.add_argument("harps", nargs="+", metavar="HARP", help=HARP_HELP)
    else:
        command.add_argument("harp", metavar="HARP", help=HARP_HELP)
    add_tuning_and_valves(command)


def add_tuning_and_valves(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--tuning", metavar="NAME", help="tuning by name, or a file of your own (default richter)"
    )
    command.add_argument(
        "--valves",
        metavar="WHICH",
        help="none, half, full, or reeds such as 'blow 1-6, draw 7-10' (default: as made)",
    )


def harp_of(args: argparse.Namespace, text: str | None = None) -> Harp:
    from reedwright.harp.making import parse_harp

    return parse_harp(text or args.harp, tuning=args.tuning, valves=args.valves)


def harp_words(text: str, tuning: str | None = None, valves: str | None = None) -> str:
    """The harp as one text that `parse_harp` reads: key, tuning and valves with colons."""
    parts = [part.strip() for part in text.split(":")]
    parts += [""] * (3 - len(parts))
    parts[1] = parts[1] or tuning or ""
    parts[2] = parts[2] or valves or ""
    return ":".join(parts).rstrip(":")


def add_targets(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--temperament",
        default="equal",
        metavar="NAME",
        help="how it is tuned: a name (`reedwright bench targets` lists them) or a file of cents "
        "by reed (default equal)",
    )
    command.add_argument(
        "--a4", type=number, default=440.0, metavar="HZ", help="reference pitch (default 440)"
    )
    command.add_argument(
        "--pressure",
        type=number,
        default=0.0,
        metavar="CENTS",
        help="how much flatter reeds sound when played than at the bench (default 0)",
    )
    command.add_argument(
        "--stretch",
        type=number,
        default=0.0,
        metavar="CENTS",
        help="cents added for each octave above the home note (default 0)",
    )
    command.add_argument(
        "--set",
        dest="set_beats",
        action="append",
        default=[],
        metavar="BEATS",
        help="how fast two reeds are to beat: 'blow 1 4=0.5' sets 4 blow so that the two beat once "
        "in two seconds, on the side of pure where they are nearer; '=+0.5' wide, '=-0.5' narrow, "
        "'=0' pure; may be said again",
    )


def wishes_of(args: argparse.Namespace) -> TargetWishes:
    from reedwright.workshop.targets.model import TargetWishes
    from reedwright.workshop.targets.setting import parse_beat_wish

    beats = tuple(parse_beat_wish(text) for text in args.set_beats)
    return TargetWishes(args.temperament, args.a4, args.pressure, args.stretch, beats)


def targets_of(args: argparse.Namespace) -> Targets:
    from reedwright.workshop.targets.making import reed_targets

    return reed_targets(harp_of(args), wishes_of(args))


def add_paper(command: argparse.ArgumentParser) -> None:
    command.add_argument("--paper", choices=tuple(PAPERS), default="a4", help="default a4")


def add_out(command: argparse.ArgumentParser, default: str) -> None:
    command.add_argument(
        "--out", type=Path, default=Path(default), metavar="FILE", help=f"default {default}"
    )
