"""`reedwright harp`: the chart of all notes that a harp has."""

from __future__ import annotations

import argparse
from pathlib import Path

from reedwright.cli import choosing
from reedwright.cli.output import print_json
from reedwright.errors import ReedwrightError

PICTURE_DPI = 200


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "harp",
        help="print or draw the chart of all notes of a harp",
        description="Print the chart of all notes that a harp has: natural notes, bends, "
        "overblows and overdraws. Without KEY, list the tunings.",
    )
    command.add_argument("key", metavar="KEY", nargs="?", help="C, Bb, 'low D', 'high G'")
    command.add_argument("tuning", metavar="TUNING", nargs="?", help="default richter")
    command.add_argument(
        "--valves", metavar="WHICH", help="none, half, full, or reeds such as 'blow 1-6'"
    )
    command.add_argument(
        "--draw", metavar="FILE", type=Path, help="draw it, as .svg or .png by the ending"
    )
    command.add_argument(
        "--expression",
        action="store_true",
        help="tell (and mark in the drawing) which reeds bend, take vibrato, are breathy",
    )
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    from reedwright.harp.expression import expression_report, expression_text
    from reedwright.harp.layout import harp_report, layout_text
    from reedwright.harp.making import parse_harp

    if args.key is None:
        return _list_tunings(args)
    harp = parse_harp(args.key, tuning=args.tuning, valves=args.valves)
    if args.draw is not None:
        from reedwright.files import write_whole
        from reedwright.page.harpchart import chart_svg
        from reedwright.page.raster import svg_to_png

        ending = args.draw.suffix.lower()
        if ending not in (".svg", ".png"):
            raise ReedwrightError(f"{args.draw}: a chart is drawn as .svg or .png.")
        svg = chart_svg(harp, expression=args.expression)
        write_whole(args.draw, svg.encode() if ending == ".svg" else svg_to_png(svg, PICTURE_DPI))
    if args.json:
        more = {"expression": expression_report(harp)} if args.expression else {}
        print_json({**harp_report(harp), **more})
    elif args.draw is not None:
        print(f"Drawn: {args.draw}")
    else:
        print(layout_text(harp))
        if args.expression:
            print(f"\n{expression_text(harp)}")
    return 0


def _list_tunings(args: argparse.Namespace) -> int:
    from reedwright.harp.tunings import all_tunings

    tunings = all_tunings().values()
    if args.json:
        print_json([{"name": t.name, "title": t.title, "holes": t.holes} for t in tunings])
    else:
        width = max(len(tuning.name) for tuning in tunings)
        for tuning in tunings:
            print(f"{tuning.name:{width}}  {tuning.description}")
    return 0
