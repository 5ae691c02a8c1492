"""`reedwright tunings`: which tunings there are, and which reeds are worth changing."""

from __future__ import annotations

import argparse
import os
import re
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.gathering import gathered
from reedwright.cli.output import Progress, print_json
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.harp.model import Reed, Tuning
    from reedwright.player.profile import Profile
    from reedwright.tune.model import Tune
    from reedwright.workshop.search.choosing import Rows
    from reedwright.workshop.search.cluster import Cluster
    from reedwright.workshop.search.model import Layout, SearchResult, SearchWishes

STOPPED = 130  # the shell's usual status after Ctrl-C
MOST_SEMITONES = 3
DEFAULT_MOST = 5
ORDERS = ("effort", "no-bends")  # of `workshop.search.words`, which would be long in loading
PLOT_DPI = 200.0


class NothingToSearch(ReedwrightError):
    """No tune with notes to search a tuning for."""


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    group = commands.add_parser(
        "tunings",
        help="list the tunings, or search for one that suits a repertoire",
        description="Tunings: which there are, and which reeds are worth changing for the tunes "
        "that one plays.",
    )
    actions = group.add_subparsers(metavar="ACTION", required=True)
    _add_list(actions)
    _add_search(actions)


def _add_list(actions: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = actions.add_parser(
        "list",
        help="the tunings by name",
        description="List every tuning, those that come along and your own, by name, with the "
        "reeds that differ from the standard tuning.",
    )
    choosing.add_json_option(command)
    command.set_defaults(run=run_list)


def _add_search(actions: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = actions.add_parser(
        "search",
        help="find the reeds worth changing for the tunes of a tunebook",
        description="Try every way to change a reed or two of a tuning, and find those that make "
        "the tunes easiest. Stopped with Ctrl-C it keeps what is done, and goes on when the same "
        "command is given again.",
    )
    command.add_argument(
        "tunebooks", metavar="TUNEBOOK", nargs="+", type=Path, help="file of tunes, or folder"
    )
    choosing.add_player_option(command)
    command.add_argument(
        "--reeds",
        type=choosing.positive,
        default=1,
        metavar="N",
        help="how many reeds may be changed (default 1); exact for 1 and 2, and beyond for short "
        "tunebooks",
    )
    command.add_argument(
        "--exact",
        type=choosing.positive,
        default=2,
        metavar="N",
        help="try all ways for up to N reeds, however long it takes",
    )
    command.add_argument(
        "--semitones",
        type=int,
        choices=range(1, MOST_SEMITONES + 1),
        default=2,
        help="how far a reed may be moved (default 2)",
    )
    command.add_argument(
        "--from", dest="base", default="richter", metavar="TUNING", help="default richter"
    )
    command.add_argument(
        "--keep", default="", metavar="REEDS", help="reeds to leave alone, 'blow 1-3, draw 10'"
    )
    command.add_argument(
        "--keys", metavar="LIST", help="keys of the harps there are, 'G, A, D' (default: all)"
    )
    command.add_argument(
        "--octaves",
        type=int,
        default=1,
        choices=range(3),
        help="by how many octaves a tune may be moved (default 1)",
    )
    command.add_argument(
        "--valves",
        default="as made",
        metavar="WHICH",
        help="none, half, full, or reeds such as 'blow 1-6' (default: as made)",
    )
    told = command.add_argument_group("what is told and saved")
    told.add_argument(
        "--by", choices=ORDERS, default=ORDERS[0], help="what the tables are sorted by"
    )
    told.add_argument(
        "--most",
        type=choosing.positive,
        default=DEFAULT_MOST,
        metavar="N",
        help=f"rows of each table (default {DEFAULT_MOST})",
    )
    told.add_argument("--tunes", action="store_true", help="name the tunes won and lost")
    told.add_argument(
        "--plot", type=Path, metavar="FILE", help="draw the frontier, as .svg or .png by the ending"
    )
    told.add_argument(
        "--out", type=Path, metavar="FILE.toml", help="save the best as a tuning of your own"
    )
    told.add_argument(
        "--take",
        type=choosing.positive,
        default=1,
        metavar="N",
        help="with --out: save row N of the last table (default 1)",
    )
    told.add_argument("--title", help="with --out: what the tuning is called in print")
    choosing.add_json_option(command)
    work = command.add_argument_group("how the work is done")
    work.add_argument(
        "--jobs", type=choosing.positive, metavar="N", help="processes (default: one for each core)"
    )
    work.add_argument(
        "--work",
        type=Path,
        metavar="FOLDER",
        help="where what is done is kept (default: in your cache folder)",
    )
    work.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="work on a Dask cluster: the scheduler's address, such as tcp://192.168.1.10:8786",
    )
    command.set_defaults(run=run_search)


def run_list(args: argparse.Namespace) -> int:
    from reedwright.harp.tunings import all_tunings, find_tuning
    from reedwright.workshop.search.listing import tuning_report, tunings_text

    standard = find_tuning("richter")
    tunings = all_tunings().values()
    if args.json:
        print_json([tuning_report(each, standard) for each in tunings])
    else:
        print(tunings_text(tunings, standard))
    return 0


def run_search(args: argparse.Namespace) -> int:
    _check_files(args)
    player = choosing.player(args)
    wishes = _wishes(args)
    with Progress() as progress:
        tunes = _tunes(args, progress)
        try:
            result = _searched(args, tunes, player, wishes, progress)
        except KeyboardInterrupt:
            if getattr(args, "begun", False):
                choosing.tell(
                    "stopped. What is done is kept; give the same command again and it goes on."
                )
            else:
                choosing.tell("stopped before any tune was worked out.")
            return STOPPED
    _tell(args, result, player)
    return choosing.status(args)


def _check_files(args: argparse.Namespace) -> None:
    """What cannot be written is told before the work, not after it."""
    if args.plot is not None and args.plot.suffix.lower() not in (".svg", ".png"):
        raise ReedwrightError(f"{args.plot}: the plot is drawn as .svg or .png.")
    for path in (args.plot, args.out):
        if path is not None and not path.parent.is_dir():
            raise ReedwrightError(
                f"{path}: there is no folder {path.parent}. Make it first, or choose another place."
            )
        if path is not None and not os.access(path.parent, os.W_OK):
            raise ReedwrightError(
                f"{path}: the folder {path.parent} cannot be written to. Choose another place."
            )
    if args.out is None:
        if args.title is not None:
            raise ReedwrightError("--title names the tuning that --out saves; give --out, too.")
    else:
        from reedwright.workshop.search.saving import check_place

        check_place(args.out)
    if args.take > args.most:
        raise ReedwrightError(
            f"--take {args.take} lies beyond the {args.most} rows that are shown; "
            f"give --most {args.take}, too."
        )


def _wishes(args: argparse.Namespace) -> SearchWishes:
    from reedwright.harp.naming import KEYS, parse_key
    from reedwright.harp.tunings import find_tuning
    from reedwright.workshop.search.model import SearchWishes

    base = find_tuning(args.base)
    named = [part for part in re.split(r"[,;\s]+", args.keys or "") if part]
    free = 2 * base.holes - len(_kept_reeds(args.keep, base))
    if 0 < free < args.reeds:
        raise ReedwrightError(
            f"--reeds {args.reeds} is more than the {free} reeds there are to change."
        )
    return SearchWishes(
        base=base,
        reeds=args.reeds,
        semitones=args.semitones,
        keys=tuple(dict.fromkeys(parse_key(key) for key in named)) or KEYS,
        octaves=tuple(range(-args.octaves, args.octaves + 1)),
        valves=args.valves,
        frozen=_kept_reeds(args.keep, base),
    )


def _kept_reeds(text: str, base: Tuning) -> frozenset[Reed]:
    """Reeds are listed as they are for valves."""
    from reedwright.harp.making import AS_MADE, listed_reeds, parse_valves

    if text.strip().lower() in ("", "none"):
        return frozenset()
    if text.strip().lower() in ("half", "full", AS_MADE):
        return parse_valves(text, base)
    return listed_reeds(text, base, "--keep", "none, half, full or a list of reeds")


def _tunes(args: argparse.Namespace, progress: Progress) -> list[Tune]:
    """The tunes that have notes; what cannot be used is told and left out."""
    found = []
    for tune in gathered(args, args.tunebooks, progress):
        if any(bar.notes for bar in tune.bars):
            found.append(tune)
        else:
            choosing.tell_of(tune, "there are no notes in it; it is left out.")
    if not found:
        raise NothingToSearch(
            f"{', '.join(map(str, args.tunebooks))}: there is no tune to search a tuning for. "
            "Give files of ABC, MusicXML or MIDI, or folders of them."
        )
    return found


def _searched(
    args: argparse.Namespace,
    tunes: list[Tune],
    player: Profile,
    wishes: SearchWishes,
    progress: Progress,
) -> SearchResult:
    from reedwright.workshop.search.engine import prepare, usage
    from reedwright.workshop.search.keeping import solver
    from reedwright.workshop.search.survey import survey

    problem = prepare(tunes, player, wishes)
    with _machines(args) as machines:
        solving = solver(problem, args.work, args.jobs, progress, machines)

        def solve(layouts: Sequence[Layout], stage: str) -> Rows:
            args.begun = True  # from here on there is a file of what is done
            return solving(layouts, stage)

        return survey(
            [tune.title for tune in tunes],
            problem,
            usage(problem),
            solve,
            exact=args.exact,
            progress=progress,
        )


def _machines(args: argparse.Namespace) -> AbstractContextManager[Cluster | None]:
    """The cluster to work on, or nothing for this machine."""
    if args.cluster is None:
        return nullcontext()
    from reedwright.workshop.search.cluster import cluster

    return cluster(args.cluster)


def _tell(args: argparse.Namespace, result: SearchResult, player: Profile) -> None:
    from reedwright.workshop.search.words import search_report, search_text

    if args.json:
        print_json(search_report(result, player.name))
    else:
        print(search_text(result, player.name, args.most, args.by, args.tunes))
    _save(args, result, player)  # first: a drawing that fails loses nothing
    _draw(args, result, player)


def _draw(args: argparse.Namespace, result: SearchResult, player: Profile) -> None:
    if args.plot is None:
        return
    from reedwright.files import write_whole
    from reedwright.page.frontierplot import frontier_svg
    from reedwright.page.raster import svg_to_png
    from reedwright.workshop.search.words import search_title

    svg = frontier_svg(result, search_title(result, player.name))
    png = args.plot.suffix.lower() == ".png"
    write_whole(args.plot, svg_to_png(svg, PLOT_DPI) if png else svg.encode())
    if not args.json:
        print(f"\nDrawn: {args.plot}")


def _save(args: argparse.Namespace, result: SearchResult, player: Profile) -> None:
    if args.out is None:
        return
    from reedwright.workshop.search.saving import save_tuning
    from reedwright.workshop.search.words import found_text, found_tuning

    tables = result.best if args.by == ORDERS[0] else result.plainest
    rows = next((rows for rows in reversed(tables) if rows), ())
    if args.take > len(rows):
        raise ReedwrightError(
            f"--take {args.take}: the last table has {len(rows)} rows; nothing was saved. "
            + (f"Give --take 1 to {len(rows)}." if rows else "")
        )
    chosen = rows[args.take - 1]
    saved = save_tuning(found_tuning(result, chosen, player.name), args.out, args.title)
    if not args.json:
        print(f"\nSaved: {args.out}, {found_text(chosen)}.")
        print(f"Its chart: reedwright harp C {_by_name(args.out, saved)}")


def _by_name(path: Path, tuning: Tuning) -> str:
    """What to write for a saved tuning: its name where it is found by that, else its path."""
    from reedwright.harp.tunings import all_tunings

    known = all_tunings().get(tuning.name)
    return tuning.name if known == tuning else str(path)
