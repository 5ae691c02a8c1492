"""`reedwright bench valves`: which slots are covered, how large the valves are, the sheet."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.bench import options
from reedwright.cli.output import print_json
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.harp.model import Harp
    from reedwright.workshop.valving.model import ValvePlan


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = what.add_parser(
        "valves",
        help="plan valves: which slots, what sizes, what they change",
        description="Plan the valves of a harp (half-valved unless said otherwise): which slot of "
        "which plate each covers, how large it is cut, what bends and overblows come and go. "
        "Sizes come from your own measures, or from memory. --sheet draws them at true size.",
    )
    options.add_harp(command)
    add_sizes(command)
    command.add_argument(
        "--form", metavar="FILE", type=Path, help="write a file of sizes to fill in, and no plan"
    )
    command.add_argument(
        "--sheet", metavar="FILE", type=Path, help="also write the cutting sheet, a PDF"
    )
    command.add_argument(
        "--strip-width",
        type=options.number,
        metavar="MM",
        help="width of the strip that valves are cut from",
    )
    options.add_paper(command)
    choosing.add_json_option(command)
    command.set_defaults(run=_run)


def add_sizes(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--sizes", metavar="FILE", type=Path, help="sizes of the reed slots (docs/valves.md)"
    )


def planned(args: argparse.Namespace, harp: Harp) -> ValvePlan | None:
    """The plan for this harp; None where no reed of it is valved."""
    from reedwright.workshop.valving.planning import plan_valves
    from reedwright.workshop.valving.reading import read_slot_sizes

    if not harp.isolated:
        return None
    return plan_valves(harp, None if args.sizes is None else read_slot_sizes(args.sizes))


def _run(args: argparse.Namespace) -> int:
    from reedwright.workshop.valving.form import slot_form
    from reedwright.workshop.valving.text import valve_plan_report, valve_plan_text

    if args.strip_width is not None and args.sheet is None:
        raise ReedwrightError("--strip-width is about the cutting sheet; name it with --sheet.")
    args.valves = args.valves or "half"
    harp = options.harp_of(args)
    if args.form is not None:
        from reedwright.files import write_whole

        if args.form.exists():
            raise ReedwrightError(f"{args.form} is there already; name another file for the form.")
        write_whole(args.form, slot_form(harp).encode())
        print(f"To fill in: {args.form}")
        return 0
    plan = planned(args, harp)
    if plan is None:
        raise ReedwrightError(f"{harp.name}: no reed is to be valved; name some with --valves.")
    if args.sheet is not None:
        from reedwright.page.cuttingsheet import write_cutting_sheet
        from reedwright.workshop.valving.packing import STRIP_WIDTH

        width = STRIP_WIDTH if args.strip_width is None else args.strip_width
        write_cutting_sheet(plan, args.sheet, args.paper, width)
    if args.json:
        print_json(valve_plan_report(plan))
    else:
        print(valve_plan_text(plan))
        if args.sheet is not None:
            print(f"\nTo cut by: {args.sheet} (print at 100 %)")
    return 0
