"""`reedwright bench sheet`, `card` and `labels`: the paper that goes with a harp."""

from __future__ import annotations

import argparse
import datetime
from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.bench import options, plan, valves
from reedwright.errors import ReedwrightError
from reedwright.page.bench.papers import BENCH_PAPERS

if TYPE_CHECKING:
    from reedwright.harp.model import Harp
    from reedwright.tune.model import Tune
    from reedwright.workshop.conversion.model import Conversion, WorkList
    from reedwright.workshop.measuring.model import Measurement
    from reedwright.workshop.targets.model import Targets
    from reedwright.workshop.valving.model import ValvePlan


def add_commands(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    sheet = what.add_parser(
        "sheet",
        help="a bench sheet to work by, as PDF",
        description="Write the bench sheet of a harp: each reed's work and target in bench order "
        "with boxes to tick, what was measured, valves, the chart of the result, the cautions. "
        "Several harps make one shopping and work list.",
    )
    options.add_harp(sheet, many=True)
    options.add_targets(sheet)
    plan.add_stock(sheet)
    valves.add_sizes(sheet)
    sheet.add_argument(
        "--targets-only",
        action="store_true",
        help="the harp has its notes already: only what to tune each reed to",
    )
    _add_common(sheet, "bench-sheet.pdf", maker=False)
    sheet.set_defaults(run=_sheet)

    card = what.add_parser(
        "card",
        help="a card for whoever gets the harp, as PDF",
        description="Write a card that goes with a harp: how it is tuned, what to play on it, how "
        "to look after it.",
    )
    options.add_harp(card)
    options.add_targets(card)
    card.add_argument(
        "--tunes", type=Path, metavar="FILE", help="tunes to name on it that the harp plays"
    )
    card.add_argument("--owner", default="", metavar="TEXT", help="whom it is for")
    _add_common(card, "harp-card.pdf", count=1)
    card.set_defaults(run=_card)

    labels = what.add_parser(
        "labels",
        help="labels for the box, as PDF",
        description="Write labels at true size: key, tuning, valves, pitch, maker, date.",
    )
    options.add_harp(labels, many=True)
    options.add_targets(labels)
    labels.add_argument(
        "--size", type=_size, metavar="WxH", help="width and height in mm, such as 60x20"
    )
    _add_common(labels, "harp-labels.pdf", count=4)
    labels.set_defaults(run=_labels)


def _add_common(
    command: argparse.ArgumentParser, out: str, count: int = 0, maker: bool = True
) -> None:
    command.add_argument("--name", default="", metavar="TEXT", help="what the harp is called")
    if maker:
        command.add_argument("--maker", default="", metavar="TEXT", help="who made it")
    command.add_argument(
        "--date",
        type=_date,
        metavar="YYYY-MM-DD",
        help="a date to print (default: none, with room to write one)",
    )
    if count:
        command.add_argument(
            "--count",
            type=_copies,
            default=count,
            metavar="N",
            help=f"how many of each (default {count})",
        )
    command.add_argument("--paper", choices=tuple(BENCH_PAPERS), default="a4", help="default a4")
    options.add_out(command, out)


MOST_COPIES = 500  # of one harp: two dozen pages of labels


def _copies(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= MOST_COPIES:
        raise argparse.ArgumentTypeError(f"{text} is not from 1 to {MOST_COPIES}")
    return int(text)


def _date(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no date such as 2026-11-28") from None


def _size(text: str) -> tuple[float, float]:
    try:
        width, height = (float(part) for part in text.lower().split("x"))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no size such as 60x20") from None
    if not (isfinite(width) and isfinite(height)):
        raise argparse.ArgumentTypeError(f"{text!r} is no size such as 60x20")
    return width, height


def _sheet(args: argparse.Namespace) -> int:
    from reedwright.page.bench.sheet import bench_sheet_pdf, worklist_pdf

    together: WorkList | None = None
    if args.targets_only:
        if len(args.harps) > 1:
            raise ReedwrightError("--targets-only makes the sheet of one harp; name one.")
        if args.stock or args.sold or args.have:
            raise ReedwrightError("--targets-only starts from no other harp; leave out the stock.")
        planned: Conversion | Targets = _targets(args, args.harps[0])
    else:
        together = plan.worklist(args)
        if len(together.conversions) > 1:
            return _written(
                args,
                worklist_pdf(
                    together,
                    valve_plans=[_valves(args, each.wanted) for each in together.conversions],
                    name=args.name,
                    date=args.date,
                    paper=args.paper,
                ),
            )
        (planned,) = together.conversions
    if args.sizes is not None and not options.harp_of(args, args.harps[0]).isolated:
        raise ReedwrightError("--sizes is about valves; say which with --valves.")
    before, after = _measured(args, planned)
    sheet = bench_sheet_pdf(
        planned,
        measured_before=before,
        measured_after=after,
        valve_plan=_valves(args, options.harp_of(args, args.harps[0])),
        name=args.name or args.history or "",
        date=args.date,
        paper=args.paper,
        shopping=together,
    )
    return _written(args, sheet)


def _written(args: argparse.Namespace, pdf: bytes) -> int:
    from reedwright.files import write_whole

    write_whole(args.out, pdf)
    print(f"Written: {args.out}")
    return 0


def _valves(args: argparse.Namespace, harp: Harp) -> ValvePlan | None:
    """The valves of a sheet; none for a harp with a slide, which is valved when it is made."""
    return None if harp.tuning.slide else valves.planned(args, harp)


def _measured(
    args: argparse.Namespace, planned: Conversion | Targets
) -> tuple[Measurement | None, Measurement | None]:
    """What the harp's history knows from before the work and from after it."""
    from reedwright.workshop.conversion.model import Conversion
    from reedwright.workshop.history.keeping import open_history
    from reedwright.workshop.history.recalling import before_and_after

    if args.history is None:
        return None, None
    targets = planned.targets if isinstance(planned, Conversion) else planned
    return before_and_after(open_history(args.history), targets)


def _card(args: argparse.Namespace) -> int:
    from reedwright.page.bench.card import harp_card_pdf

    tunes: list[Tune] = []
    if args.tunes is not None:
        args.file, args.tune = str(args.tunes), choosing.ALL
        tunes += choosing.chosen_tunes(args)
    card = harp_card_pdf(
        _targets(args, args.harp),
        tunes=tunes,
        name=args.name,
        owner=args.owner,
        maker=args.maker,
        date=args.date,
        count=args.count,
        paper=args.paper,
    )
    _written(args, card)
    return choosing.status(args)


def _labels(args: argparse.Namespace) -> int:
    from reedwright.page.bench.label import LABEL_SIZE, labels_pdf

    pdf = labels_pdf(
        [_targets(args, text) for text in args.harps],
        count=args.count,
        name=args.name,
        maker=args.maker,
        date=args.date,
        size=args.size or LABEL_SIZE,
        paper=args.paper,
    )
    return _written(args, pdf)


def _targets(args: argparse.Namespace, text: str) -> Targets:
    from reedwright.workshop.targets.making import reed_targets

    return reed_targets(options.harp_of(args, text), options.wishes_of(args))
