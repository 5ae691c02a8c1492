"""`reedwright pack`: the finished lesson of a tune, as one folder and one zip."""

from __future__ import annotations

import argparse
from pathlib import Path

from reedwright.cli import arranging, choosing
from reedwright.cli.output import JsonResults, Progress, json_results
from reedwright.errors import ReedwrightError
from reedwright.pack.settings import PackSettings
from reedwright.page.settings import PAPERS


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "pack",
        help="make a finished lesson: page, sound, MIDI, MusicXML, ABC, tab in words",
        description="Make a folder and a zip of a tune for a student: the page as PDF, sound at "
        "speed and slowed down, MIDI, MusicXML, ABC and tab in words. With no harp named, the "
        "harp that the tune lies best on is taken. An earlier pack stays until the new is whole.",
    )
    arranging.add_arrangement_options(command)
    command.add_argument(
        "--out", metavar="DIR", type=Path, default=Path("packs"), help="default: packs"
    )
    command.add_argument("--paper", choices=tuple(PAPERS), default="a4", help="default a4")
    choosing.add_style_option(command)
    choosing.add_speeds_option(command)
    command.add_argument("--straight", action="store_true", help="no lilt: even quavers")
    command.add_argument("--no-count-in", action="store_true", help="no clicks before the tune")
    command.add_argument(
        "--loops", action="store_true", help="also the hardest bars as loops, slow to full tempo"
    )
    command.add_argument(
        "--breath-plot", action="store_true", help="draw under the tune how full the lungs are"
    )
    command.add_argument(
        "--take",
        type=Path,
        metavar="RECORDING",
        help="your own playing of the tune, in place of the synthesised sound",
    )
    command.add_argument(
        "--take-beside", action="store_true", help="the take beside the synthesised sound"
    )
    command.add_argument("--take-parts", action="store_true", help="also each part of the take")
    command.add_argument(
        "--played-by", default="", metavar="NAME", help="who plays in the take, for the tags"
    )
    command.add_argument("--template", type=Path, metavar="FILE", help="a Typst page of your own")
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    with json_results(args.json, many=args.tune == choosing.ALL) as printed:
        return _each(args, printed)


def _each(args: argparse.Namespace, printed: JsonResults | None) -> int:
    from reedwright.folders.names import unused_file_name
    from reedwright.pack.lesson import make_pack
    from reedwright.tab.text import notices

    choosing.check_choices(args)
    if args.take is not None and args.tune == choosing.ALL:
        raise ReedwrightError("A take is of one tune: name it with --tune N.")
    settings = _settings(args)
    names: set[str] = set()
    no_rights: list[str] = []
    for tune in choosing.chosen_tunes(args):
        name = unused_file_name(tune.title, tune.number, names)
        names.add(name)
        with choosing.one_of_many(args, tune):
            arrangement = arranging.arrangement(args, tune)
            with Progress() as progress:
                pack = make_pack(arrangement, settings, args.out, name, progress)
            for notice in notices(arrangement):
                choosing.tell_of(tune, notice)
            for notice in pack.notices:
                choosing.tell_of(tune, notice)
            if pack.rights is None:
                no_rights.append(tune.title)
            if printed is not None:
                printed.add(pack.report())
            else:
                print(pack.text())
    _tell_of_rights(no_rights)
    return choosing.status(args)


def _tell_of_rights(titles: list[str]) -> None:
    """Once, at the end of a batch, for all the tunes whose rights were not stated."""
    from reedwright.pack.cautions import rights_not_stated

    if titles:
        choosing.tell(rights_not_stated(titles))


def _settings(args: argparse.Namespace) -> PackSettings:
    return PackSettings(
        paper=args.paper,
        tab_style=args.style,
        speeds=args.speeds,
        tempo=args.tempo,
        lilt=not args.straight,
        count_in=not args.no_count_in,
        template=args.template,
        loops=args.loops,
        breath_plot=args.breath_plot,
        take=args.take,
        take_beside=args.take_beside,
        take_parts=args.take_parts,
        played_by=args.played_by,
    )
