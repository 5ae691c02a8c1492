"""`reedwright sets`: the fewest harps for a list of tunes, sets of them, and a sheet for those."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing, gathering, shelved
from reedwright.cli.output import Progress, print_json
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.harp.model import Harp
    from reedwright.tab.sets.efforts import EffortTable
    from reedwright.tab.sets.model import Evening
    from reedwright.tab.sets.wishes import HarpWishes, Limit
    from reedwright.tune.model import Tune

MOST_MINUTES = 1440  # a day
PAPERS = ("a4", "letter", "a5")


class NoTunes(ReedwrightError):
    """There are no tunes to put together."""


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    group = commands.add_parser(
        "sets",
        help="fewest harps for a list of tunes; sets and evenings; a sheet for the stand",
        description="With how few harps can these tunes be played, which tunes go together and in "
        "which order, and a sheet of it for the music stand. PLACE is a file or folder of tunes, "
        "or on the shelf (shelf:NAME of a list).",
    )
    what = group.add_subparsers(metavar="WHAT", required=True)
    _add_harps(what)
    _add_plan(what)
    _add_sheet(what)


def _add_harps(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    harps = what.add_parser(
        "harps",
        help="the fewest harps that play a list of tunes",
        description="Find the fewest harps that play all the tunes within what you allow, exactly, "
        "and what one harp less or more would bring.",
    )
    _add_tunes(harps)
    _add_wishes(harps)
    harps.set_defaults(run=_harps, tempo=None)


def _add_plan(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    plan = what.add_parser(
        "plan",
        help="put tunes into sets, and sets into an evening",
        description="Choose and order tunes into sets: harps and keys that change little, types "
        "and tempi that fit, contrast in mode, and rules of your own (docs/sets.md). All tunes are "
        "used, unless --sets or --minutes ask for the best of them.",
    )
    _add_tunes(plan)
    _add_wishes(plan)
    plan.add_argument("--sets", type=choosing.positive, metavar="N", help="so many sets")
    plan.add_argument("--minutes", type=_minutes, metavar="M", help="so long an evening")
    plan.add_argument("--rules", type=Path, metavar="FILE", help="your own rules, TOML")
    plan.add_argument("--title", default="Evening", help="default: Evening")
    plan.add_argument("--out", type=Path, metavar="FILE", help="the evening as TOML, to be edited")
    plan.add_argument("--keep-as", metavar="NAME", help="keep it as a list on the shelf")
    plan.add_argument("--sheet", type=Path, metavar="FILE", help="the set sheet as PDF")
    _add_paper(plan)
    plan.set_defaults(run=_plan, tempo=None)


def _minutes(text: str) -> float:
    try:
        found = float(text)
    except ValueError:
        found = 0.0
    if not 0 < found <= MOST_MINUTES:  # so also for "nan"
        raise argparse.ArgumentTypeError(f"{text!r}: give minutes, at most {MOST_MINUTES}")
    return found


def _add_sheet(what: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    sheet = what.add_parser(
        "sheet",
        help="the set sheet of an evening as PDF",
        description="For the music stand: harps in order, and how each tune begins, with tab. "
        "EVENING is the file that `sets plan --out` wrote, or shelf:NAME of one that was kept.",
    )
    sheet.add_argument("evening", metavar="EVENING", type=Path)
    sheet.add_argument(
        "places", metavar="PLACE", nargs="*", type=Path, help="where its tunes are (else the shelf)"
    )
    sheet.add_argument("--out", type=Path, metavar="FILE", help="default: beside EVENING, .pdf")
    choosing.add_player_option(sheet)
    _add_paper(sheet)
    sheet.set_defaults(run=_sheet)


def _add_tunes(command: argparse.ArgumentParser) -> None:
    command.add_argument("places", metavar="PLACE", nargs="+", type=Path)
    choosing.add_player_option(command)
    choosing.add_ranking_options(command)
    choosing.add_json_option(command)


def _add_wishes(command: argparse.ArgumentParser) -> None:
    allowed = command.add_argument_group("what counts as playable")
    allowed.add_argument("--plain", action="store_true", help="with no bends and overblows")
    allowed.add_argument("--effort", type=float, metavar="X", help="at most so much a note")
    allowed.add_argument("--above", type=float, metavar="X", help="at most so much above its best")
    allowed.add_argument("--missing", type=int, default=0, metavar="N", help="notes that may miss")
    allowed.add_argument("--any-key", action="store_true", help="tunes may be moved to other keys")
    harps = command.add_argument_group("which harps")
    harps.add_argument(
        "--have", metavar="LIST", help="harps you have, or 'shelf': they count nothing"
    )
    harps.add_argument("--must", metavar="LIST", help="harps that are to be among them")
    harps.add_argument("--never", metavar="LIST", help="harps that are not")
    harps.add_argument("--standard", action="store_true", help="standard tuning alone")
    harps.add_argument("--most", type=choosing.positive, metavar="N", help="so many harps at most")


def _add_paper(command: argparse.ArgumentParser) -> None:
    command.add_argument("--paper", choices=PAPERS, default="a4", help="default a4")
    choosing.add_style_option(command)


def _harps(args: argparse.Namespace) -> int:
    from reedwright.tab.sets.fewest import fewest_harps, frontier
    from reedwright.tab.sets.report import frontier_report, harps_report
    from reedwright.tab.sets.text import frontier_text, harps_text

    with Progress() as progress:
        table = _table(args, progress)
        limit, wishes = _limit(args), _wishes(args)
        progress(0.9, "looking for the fewest harps")
        choice = fewest_harps(table, limit, wishes)
        steps = frontier(table, limit, wishes)
    if args.json:
        print_json({**harps_report(choice), "frontier": frontier_report(steps)})
    else:
        print(harps_text(choice))
        print()
        print(frontier_text(steps))
    return choosing.status(args)


def _plan(args: argparse.Namespace) -> int:
    from reedwright.files import write_whole
    from reedwright.tab.sets.eveningfile import evening_toml
    from reedwright.tab.sets.evenings import plan_evening
    from reedwright.tab.sets.report import evening_report
    from reedwright.tab.sets.rules import NO_RULES
    from reedwright.tab.sets.rulesfile import read_rules
    from reedwright.tab.sets.text import evening_text

    if args.keep_as is not None and not all(map(shelved.is_shelved, args.places)):
        raise ReedwrightError(
            "Only an evening of tunes of the shelf is kept there: name them as shelf:LIST."
        )
    rules = NO_RULES if args.rules is None else read_rules(args.rules)
    with Progress() as progress:
        table = _table(args, progress)
        progress(0.8, "putting sets together")
        planned = plan_evening(
            table, _limit(args), rules, args.sets, args.minutes, args.title, _wishes(args)
        )
    text = evening_toml(planned.evening, _uid)
    if args.out is not None:
        write_whole(args.out, text.encode())
    if args.keep_as is not None:
        _keep(args.keep_as, text, planned.evening)
    if args.sheet is not None:
        _write_sheet(args, planned.evening, args.sheet)
    if args.json:
        print_json(evening_report(planned))
        return choosing.status(args)
    print(evening_text(planned))
    for path in (args.out, args.sheet):
        if path is not None:
            print(f"Written to {path}.")
    return choosing.status(args)


def _sheet(args: argparse.Namespace) -> int:
    evening = _evening(args)
    on_shelf = shelved.is_shelved(args.evening)
    out = args.out or (Path("set-sheet.pdf") if on_shelf else args.evening.with_suffix(".pdf"))
    _write_sheet(args, evening, out)
    print(f"{evening.title}: the set sheet is written to {out}.")
    return choosing.status(args)


def _write_sheet(args: argparse.Namespace, evening: Evening, out: Path) -> None:
    from reedwright.files import write_whole
    from reedwright.page.setsheet.sheet import set_sheet_pdf

    write_whole(out, set_sheet_pdf(evening, choosing.player(args), args.paper, args.style))


def _evening(args: argparse.Namespace) -> Evening:
    from reedwright.shelf.belongings.lessons import tunes_gone_from, tunes_of
    from reedwright.shelf.belongings.naming import named_item
    from reedwright.shelf.keeping.opening import open_shelf
    from reedwright.shelf.model import Kind
    from reedwright.tab.sets.eveningfile import evening_from_toml, read_evening

    if shelved.is_shelved(args.evening):
        with open_shelf(make=False) as shelf:
            called = str(args.evening).removeprefix(shelved.PREFIX)
            kept = named_item(shelf, called, Kind.LIST)
            # What was planned is printed, also where a tune was taken off the shelf since.
            items = (*tunes_of(shelf, kept.id), *tunes_gone_from(shelf, kept.id))
            by_uid = {item.uid: shelved.tune_on(shelf, item) for item in items}
        return evening_from_toml(kept.state.text, list(by_uid.values()), by_uid, kept.name)
    with Progress() as progress:
        if args.places:
            tunes = list(gathering.gathered(args, args.places, progress))
            return read_evening(args.evening, tunes)
        named = _named_uids(args.evening)
        with open_shelf(make=False) as shelf:
            items = tuple(item for item in shelf.items(Kind.TUNE) if item.uid in named)
            by_uid = {item.uid: shelved.tune_on(shelf, item) for item in items}
    return read_evening(args.evening, list(by_uid.values()), by_uid)


def _named_uids(path: Path) -> frozenset[str]:
    """The uids that stand in an evening's file."""
    import re

    from reedwright.shelf.belongings.texts import text_of

    return frozenset(re.findall(r'uid\s*=\s*"([0-9a-f]{32})"', text_of(path)))


def _table(args: argparse.Namespace, progress: Progress) -> EffortTable:
    from reedwright.harp.making import made_harps
    from reedwright.harp.tunings import all_tunings
    from reedwright.tab.sets.efforts import efforts

    tunes = [
        tune
        for tune in gathering.gathered(args, args.places, progress, 0.2)
        if any(bar.notes for bar in tune.bars)
    ]
    if not tunes:
        raise NoTunes(f"{', '.join(map(str, args.places))}: there are no tunes with notes.")
    harps = choosing.owned_harps(args)
    named = (*_listed(args.have), *_listed(args.must))
    if named:  # they may be valved, or of a tuning that is not made
        others = made_harps(all_tunings().values()) if harps is None else harps
        harps = tuple(dict.fromkeys((*others, *named)))

    def tell(done: int, of: int) -> None:
        progress(0.2 + 0.6 * done / of, f"trying harps, {done} of {of} tunes")

    return efforts(tunes, choosing.player(args), harps, any_key=args.any_key, progress=tell)


def _limit(args: argparse.Namespace) -> Limit:
    from reedwright.tab.sets.wishes import Limit

    return Limit(args.effort, args.above, args.plain, args.missing)


def _wishes(args: argparse.Namespace) -> HarpWishes:
    from reedwright.tab.sets.wishes import HarpWishes

    return HarpWishes(
        owned=_listed(args.have),
        owned_counts=0.0 if args.have else 1.0,
        must=_listed(args.must),
        never=_listed(args.never),
        odd=not args.standard,
        most=args.most,
    )


def _listed(text: str | None) -> tuple[Harp, ...]:
    if not text:
        return ()
    if text.strip().lower() == shelved.OWNED:
        return shelved.owned_harps()
    from reedwright.tab.owned.harps import owned_from

    return tuple(harp for _, harp in owned_from(text))


def _uid(tune: Tune) -> str:
    """The tune's uid, where it is one of the shelf; else nothing."""
    number = shelved.number_of(tune)
    if number is None:
        return ""
    from reedwright.shelf.keeping.opening import open_shelf

    with open_shelf(make=False) as shelf:
        return shelf.item(number).uid


def _keep(name: str, text: str, evening: Evening) -> None:
    from reedwright.shelf.belongings.lists import keep_evening
    from reedwright.shelf.keeping.opening import open_shelf

    numbers = (shelved.number_of(entry.tune) for each in evening.sets for entry in each.entries)
    with open_shelf(make=False) as shelf:
        keep_evening(shelf, name, text, [number for number in numbers if number is not None])
    choosing.tell(f"Kept on the shelf as '{name}'.")
