"""`reedwright take`: the player's own recording becomes practice tracks and a report."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import arranging, choosing
from reedwright.cli.output import JsonResults, Progress, json_results
from reedwright.errors import ReedwrightError
from reedwright.page.settings import PAPERS
from reedwright.takes.practice.settings import Loop

if TYPE_CHECKING:
    from reedwright.tab.arrangement import Arrangement
    from reedwright.takes.work import TakeDone, TakeWishes

DEFAULT_ROUNDS = 4  # of a loop


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "take",
        help="your own recording: practice tracks, and a report on the playing",
        description="Listen to a recording of a tune (wav, flac, mp3, ogg, m4a, mp4, mov), follow "
        "it along the tune, and make a folder with a report on the playing and with practice "
        "tracks: trimmed, levelled, slowed down, by parts and bars. Without --tune it is only "
        "trimmed, levelled and slowed. An earlier folder stays until the new one is whole.",
    )
    command.add_argument("recordings", nargs="+", type=Path, metavar="RECORDING")
    command.add_argument(
        "--tune", dest="file", metavar="FILE", help="ABC, MusicXML or MIDI file with the tune"
    )
    command.add_argument(
        "--which",
        dest="tune",
        metavar="N",
        help="number (X:) or part of the title of the tune in that file (default: first)",
    )
    choosing.add_voice_option(command)
    choosing.add_harp_options(command)
    choosing.add_player_option(command)
    choosing.add_tempo_option(command)
    choosing.add_ranking_options(command)
    arranging.add_arranging_options(command)
    _add_track_options(command)
    command.add_argument(
        "--temperament",
        metavar="NAME",
        help="what the harp is tuned to: equal (default), another that `reedwright bench targets` "
        "lists, or a file of cents by reed",
    )
    command.add_argument("--no-report", action="store_true", help="tracks only")
    command.add_argument("--paper", choices=tuple(PAPERS), default="a4", help="default a4")
    command.add_argument(
        "--out", metavar="DIR", type=Path, default=Path("takes"), help="default: takes"
    )
    choosing.add_json_option(command)
    command.set_defaults(run=run, one_tune_option="--which")


def _add_track_options(command: argparse.ArgumentParser) -> None:
    choosing.add_speeds_option(command)
    command.add_argument("--parts", action="store_true", help="also each part as a track")
    command.add_argument(
        "--loops", type=bars, metavar="BARS", help="also these bars as loops, such as 3-4,9"
    )
    command.add_argument(
        "--rounds",
        type=choosing.positive,
        default=DEFAULT_ROUNDS,
        metavar="N",
        help=f"how often a loop goes round (default {DEFAULT_ROUNDS})",
    )
    command.add_argument("--no-count-in", action="store_true", help="no clicks before loops")
    command.add_argument(
        "--retune", type=float, metavar="CENTS", help="move the pitch of all, such as -11.8"
    )
    command.add_argument("--artist", default="", metavar="NAME", help="who plays, for the tags")
    command.add_argument("--no-tracks", action="store_true", help="the report only")


def bars(text: str) -> tuple[Loop, ...]:
    """`3-4,9`: printed numbers, the first and the last of each loop."""
    found = []
    for part in text.split(","):
        first, dash, last = part.strip().partition("-")
        try:
            loop = Loop(int(first), int(last if dash else first))
        except ValueError:
            raise argparse.ArgumentTypeError(
                f"{text!r} are no bars; write them such as 3-4,9"
            ) from None
        if not 0 <= loop.first <= loop.last:
            raise argparse.ArgumentTypeError(f"{part.strip()!r}: the first bar goes first")
        found.append(loop)
    return tuple(found)


def run(args: argparse.Namespace) -> int:
    many = len(args.recordings) > 1
    with json_results(args.json, many=many) as printed:
        return _each(args, printed, many)


def _each(args: argparse.Namespace, printed: JsonResults | None, many: bool) -> int:
    from reedwright.folders.names import unused_file_name
    from reedwright.takes.work import take_name

    wishes = _wishes(args)
    arrangement = _arrangement(args)
    names: set[str] = set()
    failed = False
    for path in args.recordings:
        name = unused_file_name(take_name(path, arrangement), str(len(names) + 1), names)
        names.add(name)
        try:
            _one(args, path, arrangement, wishes, name, printed)
        except ReedwrightError as error:
            if not many:
                raise
            choosing.tell(str(error))
            failed = True
    return 1 if failed else 0


def _one(
    args: argparse.Namespace,
    path: Path,
    arrangement: Arrangement | None,
    wishes: TakeWishes,
    name: str,
    printed: JsonResults | None,
) -> None:
    from reedwright.takes.work import listen, make_take

    heard_share = 0.4  # of the work, about
    with Progress() as progress:
        listened = listen(path, lambda share, doing: progress(heard_share * share, doing))
        done = make_take(
            listened,
            arrangement,
            wishes,
            args.out,
            name,
            lambda share, doing: progress(heard_share + (1 - heard_share) * share, doing),
        )
    for message in [*(trouble.message for trouble in listened.troubles), *done.notices]:
        choosing.tell(message if message.startswith(str(path)) else f"{path.name}: {message}")
    if printed is not None:
        printed.add(_report(done))
    else:
        print(_text(done))


def _arrangement(args: argparse.Namespace) -> Arrangement | None:
    """The tune on its harp; None where no tune is given."""
    if args.file is None:
        if args.tune is not None:
            raise ReedwrightError("--which chooses a tune of a file: name the file with --tune.")
        return None
    if args.tune == choosing.ALL:
        raise ReedwrightError("A take is of one tune: name it with --which N.")
    choosing.check_choices(args)
    tune = next(choosing.chosen_tunes(args))
    return arranging.arrangement(args, tune)


def _wishes(args: argparse.Namespace) -> TakeWishes:
    from reedwright.takes.practice.settings import PracticeSettings
    from reedwright.takes.work import TakeWishes
    from reedwright.workshop.targets.finding import find_reed_temperament

    if args.no_tracks and args.no_report:
        raise ReedwrightError("--no-tracks and --no-report leave nothing to make; leave out one.")
    if args.temperament is not None:
        find_reed_temperament(args.temperament)  # told before anything is heard
    if args.file is None and (args.parts or args.loops):
        raise ReedwrightError(
            "Parts and bars are known only along a tune: name it with --tune, or leave out "
            "--parts and --loops."
        )
    tracks = PracticeSettings(
        speeds=args.speeds,
        parts=args.parts,
        loops=args.loops or (),
        rounds=args.rounds,
        count_in=not args.no_count_in,
        retune=args.retune or 0.0,
        artist=args.artist,
    )
    return TakeWishes(
        None if args.no_tracks else tracks,
        not args.no_report,
        args.paper,
        args.temperament or "",
    )


def _report(done: TakeDone) -> dict[str, object]:
    from reedwright.takes.report.written import report_json

    return {
        "recording": str(done.listened.recording.path),
        "seconds": round(done.listened.heard.duration, 3),
        "troubles": [trouble.message for trouble in done.listened.troubles],
        "folder": str(done.folder),
        "files": done.files,
        "report": None if done.report is None else report_json(done.report),
    }


def _text(done: TakeDone) -> str:
    import shutil

    from reedwright.takes.report.words import report_text

    lines = []
    if done.report is not None:
        lines += [report_text(done.report, shutil.get_terminal_size().columns), ""]
    width = max(map(len, done.files))
    lines += [f"  {name:{width}}  {what}" for name, what in done.files.items()]
    lines += ["", f"All of it lies in {done.folder}"]
    return "\n".join(lines)
