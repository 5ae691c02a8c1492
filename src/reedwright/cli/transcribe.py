"""`reedwright transcribe`: a tune that nobody has written down, from a recording to ABC."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing
from reedwright.cli.output import JsonResults, Progress, json_results
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.takes.transcribing.model import NotationWishes, Transcription
    from reedwright.tune.model import Key, Meter


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "transcribe",
        help="write a recording down as ABC",
        description="Listen to a recording of a tune and write it down as ABC: notes, metre and "
        "type, key, bar lines, repeats, cuts as grace notes. What you know already (type, metre, "
        "key, tempo) makes it surer. Comments in the ABC say where it is unsure. Several "
        "recordings become one tunebook.",
    )
    command.add_argument("recordings", nargs="+", type=Path, metavar="RECORDING")
    command.add_argument("--title", default="", metavar="TEXT", help="the tune's title")
    command.add_argument(
        "--type", default="", metavar="TYPE", help="reel, jig, slip jig, hornpipe, polka, waltz..."
    )
    command.add_argument("--meter", metavar="M", help="metre, such as 6/8 or C|")
    command.add_argument("--key", metavar="K", help="key as in ABC: G, Em, Ador")
    choosing.add_tempo_option(command)
    command.add_argument(
        "--out", type=Path, metavar="FILE", help="write the ABC here (default: print it)"
    )
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    with json_results(args.json, many=len(args.recordings) > 1) as printed:
        return _each(args, printed)


def _each(args: argparse.Namespace, printed: JsonResults | None) -> int:
    wishes = _wishes(args)
    texts: list[str] = []
    failed = False
    for path in args.recordings:
        try:
            found = _one(path, wishes)
        except ReedwrightError as error:
            if len(args.recordings) == 1:
                raise
            choosing.tell(str(error))
            failed = True
            continue
        texts.append(_numbered(found.abc, len(texts) + 1))
        if printed is not None:
            printed.add(_report(path, found))
        elif args.out is None:
            print(("\n" if len(texts) > 1 else "") + texts[-1].rstrip("\n"), flush=True)
        if printed is None:
            for remark in found.remarks:
                choosing.tell(f"{path.name}: {remark}")
    if args.out is not None and texts:
        from reedwright.files import write_whole

        write_whole(args.out, "\n".join(texts).encode())
        choosing.tell(f"written to {args.out}")
    return 1 if failed else 0


def _one(path: Path, wishes: NotationWishes) -> Transcription:
    from reedwright.takes.transcribing.transcribe import transcribe
    from reedwright.takes.work import listen

    with Progress() as progress:
        listened = listen(path, progress)
        progress(1.0, "writing it down")
        if not wishes.title:
            wishes = replace(wishes, title=path.stem.replace("-", " ").replace("_", " "))
    for trouble in listened.troubles:
        choosing.tell(f"{path.name}: {trouble.message}")
    return transcribe(listened.heard, wishes)


def _numbered(abc: str, number: int) -> str:
    """The tune with its place in the tunebook as its number."""
    return abc.replace("X:1\n", f"X:{number}\n", 1)


def _wishes(args: argparse.Namespace) -> NotationWishes:
    from reedwright.takes.transcribing.model import NotationWishes

    return NotationWishes(
        title=args.title,
        type=args.type,
        meter=None if args.meter is None else _meter(args.meter),
        key=None if args.key is None else _key(args.key),
        quarters_per_minute=args.tempo,
    )


def _meter(text: str) -> Meter:
    from reedwright.tune.abc.metres import read_meter

    meter = read_meter(text)
    if meter is None or meter.free:
        raise ReedwrightError(f"--meter {text}: write a metre such as 6/8, 4/4 or C|.")
    return meter


def _key(text: str) -> Key:
    from reedwright.tune.abc.keys import read_key

    field = read_key(text)
    if field is None or field.key is None or field.key.mode == "none":
        raise ReedwrightError(f"--key {text}: write a key as in ABC, such as G, Em or Ador.")
    return field.key


def _report(path: Path, found: Transcription) -> dict[str, object]:
    """The shape is in docs/formats.md."""
    return {
        "recording": str(path),
        "abc": found.abc,
        "title": found.tune.title,
        "type": found.tune.type,
        "meter": found.tune.meter.name,
        "meter_sureness": round(found.meter_sureness, 3),
        "key": found.tune.key.name,
        "key_sureness": round(found.key_sureness, 3),
        "quarters_per_minute": round(found.quarters_per_minute, 1),
        "swing": round(found.swing, 2),
        "rounds": found.rounds,
        "sureness": round(found.sureness, 3),
        "bars": [
            {
                "bar": bar.number,
                "sureness": round(bar.sureness, 3),
                "passes": bar.passes,
                "doubt": bar.doubt,
            }
            for bar in found.bars
        ],
        "remarks": list(found.remarks),
    }
