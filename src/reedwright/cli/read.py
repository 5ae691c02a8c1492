"""`reedwright read`: what a file holds."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.output import JsonResults, json_results
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.tune.model import Tune
    from reedwright.tune.refused import Refused


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "read",
        help="say what a file of tunes holds",
        description="Say what each file holds: titles, type, key and mode, metre, form, range "
        "and problems. A tune that can't be read is told of; the rest goes on.",
    )
    command.add_argument("files", metavar="FILE", nargs="+", help="ABC, MusicXML or MIDI; - is ABC")
    command.add_argument("--tune", metavar="N", help="only the tune of this number or title")
    choosing.add_voice_option(command)
    command.add_argument("--short", action="store_true", help="one line a tune")
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    with json_results(args.json, many=True) as printed:
        return _each(args, printed)


def _each(args: argparse.Namespace, printed: JsonResults | None) -> int:
    from reedwright.tune.refused import Refused
    from reedwright.tune.report import refused_report, short_report, text_report, tune_report

    status = 0
    for file in args.files:
        try:
            for tune in _wanted(args, file):
                if isinstance(tune, Refused):
                    status = 1
                    choosing.tell(str(tune.error))
                    if printed is not None:
                        printed.add(refused_report(tune))
                    continue
                try:
                    voice = choosing.checked_voice(args, tune)
                except ReedwrightError as error:  # the other tunes may have that voice
                    status = 1
                    choosing.tell(str(error))
                    continue
                if printed is not None:
                    printed.add(tune_report(tune, voice))
                else:
                    print(short_report(tune) if args.short else text_report(tune, voice))
        except ReedwrightError as error:
            choosing.tell(str(error))
            status = 1
    return status


def _wanted(args: argparse.Namespace, file: str) -> Iterator[Tune | Refused]:
    if args.tune is None:
        return choosing.all_tunes(file)
    return choosing.chosen_tunes(argparse.Namespace(**{**vars(args), "file": file}))
