"""`reedwright choose`: a teacher's choices, listed and made."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing, honouring, shelved
from reedwright.cli.choiceplaces import ChoicesPlace, InFile, OnShelf
from reedwright.cli.output import JsonResults, json_results, shows
from reedwright.cli.tab import SIGNS
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.tab.choices.session import Session

SETTINGS = ("harp", "octaves", "semitones", "player", "amount", "second_time", "voice", "weights")
WHOLE = "all"

DESCRIPTION = """\
List and make the choices that overrule the arranger: how a note is played, how it never is,
an ornament or a breath on it, weights and settings for the tune. They are kept in a file
beside the tunes (tunes.abc: tunes.arrangement.toml) that you may edit as well; `tab`, `pack`
and `grade` honour it. Without anything to choose the choices are listed."""


def add_command(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    command = commands.add_parser(
        "choose",
        help="overrule the arranger: pin a note, place an ornament or a breath, and keep it",
        description=DESCRIPTION,
    )
    command.add_argument("file", metavar="FILE", help="ABC, MusicXML or MIDI file, or shelf:N")
    command.add_argument(
        "--tune", metavar="N", help="number (X:) or part of the title (default: the first)"
    )
    command.add_argument("--choices", metavar="FILE", help="keep the choices in this file instead")

    note = command.add_argument_group("one note")
    note.add_argument(
        "--at",
        metavar="BAR:BEAT",
        help="which note: 3:2.5 by printed bar, B1:2 by part and its bar, 3:2:B4 with the pitch",
    )
    note.add_argument("--play", metavar="WAY", help="play it so: '2 draw', '6 overblow', -3'")
    note.add_argument(
        "--never", metavar="WAY", action="append", help="never play it so (may be given again)"
    )
    note.add_argument(
        "--ornament",
        metavar="KIND",
        help="cut, tap, short roll, long roll, triplet, slide, warble, none; or 'as-written'",
    )
    note.add_argument("--breath", choices=("yes", "no"), help="breathe after it, or never there")
    note.add_argument("--clear", action="store_true", help="take out all choices for the note")
    note.add_argument(
        "--time", type=int, choices=(1, 2), default=0, help="only the first or second time through"
    )

    whole = command.add_argument_group("the whole tune")
    whole.add_argument("--harp", metavar="KEY", help="the harp: G, 'low D', with all after it")
    whole.add_argument("--tuning", metavar="NAME", help="with --harp: its tuning")
    whole.add_argument("--valves", metavar="WHICH", help="with --harp: its valves")
    whole.add_argument("--octave", type=int, metavar="N", help="move the tune by N octaves")
    whole.add_argument("--semitones", type=int, metavar="N", help="move it to another key")
    whole.add_argument("--player", metavar="PROFILE", help="whose techniques and weights count")
    whole.add_argument("--amount", choices=choosing.AMOUNTS, help="how much ornament")
    whole.add_argument(
        "--second-time", choices=("yes", "no"), help="ornament the second time otherwise"
    )
    whole.add_argument("--voice", type=choosing.positive, metavar="N", help="which voice it is")
    whole.add_argument(
        "--weight", metavar="NAME=VALUE", action="append", help="a weight for this tune alone"
    )
    whole.add_argument(
        "--forget", choices=SETTINGS, action="append", help="take out a setting (may be repeated)"
    )
    whole.add_argument(
        "--clear-aside", action="store_true", help="take out what fits no note any more"
    )

    several = command.add_argument_group("fingerings")
    several.add_argument(
        "--fingerings",
        metavar="BAR",
        help="the best different fingerings of a bar (printed number), several (3-4), or 'all'",
    )
    several.add_argument("--most", type=choosing.positive, metavar="N", help="how many (default 5)")
    several.add_argument(
        "--take", type=choosing.positive, metavar="N", help="pin the Nth of these fingerings"
    )
    choosing.add_style_option(command)
    choosing.add_tempo_option(command)
    choosing.add_json_option(command)
    command.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    with json_results(args.json, many=args.tune == choosing.ALL) as printed:
        return _each(args, printed)


def _each(args: argparse.Namespace, printed: JsonResults | None) -> int:
    if args.file == "-":
        raise ReedwrightError("choices are kept in a file beside the tunes: give a file, not -.")
    _check(args)
    path = _path(args)
    on_shelf = shelved.is_shelved(args.file) and args.choices is None
    changes = _changes(args)
    if (changes or args.take) and args.tune == choosing.ALL:
        raise ReedwrightError("--tune all only lists; name the tune to choose for.")
    claimed: set[int] = set()
    for tune in choosing.chosen_tunes(args):
        with choosing.one_of_many(args, tune):
            from reedwright.tab.choices.session import Session

            place: ChoicesPlace = (
                OnShelf(tune) if on_shelf else InFile(path, honouring.book_of(args, path))
            )
            session = Session.begin(place.book, tune, honouring.names_in_book(args), args.tempo)
            if session.choices.table is not None:
                claimed.add(session.choices.table)
            if args.fingerings is not None:
                _fingerings(args, session, place, printed)
            elif changes:
                _change(session, changes, place, printed)
            elif printed is not None:
                printed.add({"file": place.name, **session.report()})
            else:
                print(session.text())
    if args.tune == choosing.ALL and not on_shelf:
        _tell_unclaimed(args, path, claimed)
    return choosing.status(args)


def _tell_unclaimed(args: argparse.Namespace, path: Path, claimed: set[int]) -> None:
    """Tables of the file that are no tune's now: kept, but nobody would notice."""
    for at, table in enumerate(honouring.book_of(args, path).tunes):
        if at not in claimed:
            name = f"'{table.title}'" if table.title else f"number {table.number}"
            choosing.tell(
                f"{path}: the choices for {name} belong to no tune of {args.file}; they are kept. "
                "Set their title to that of the tune they are for."
            )


def _path(args: argparse.Namespace) -> Path:
    from reedwright.tab.choices import choices_path

    if args.choices is not None:
        return Path(args.choices).expanduser()
    return choices_path(Path(args.file))


def _check(args: argparse.Namespace) -> None:
    """Options that say nothing without another."""
    about_note = [
        name
        for name, given in (
            ("--play", args.play),
            ("--never", args.never),
            ("--ornament", args.ornament),
            ("--breath", args.breath),
            ("--clear", args.clear),
            ("--time", args.time),
        )
        if given
    ]
    if about_note and args.at is None:
        raise ReedwrightError(
            f"{about_note[0]} needs a note: say which with --at, such as --at 3:2."
        )
    if args.at is not None and about_note in ([], ["--time"]):
        raise ReedwrightError(
            "--at says which note; say also what: --play, --never, --ornament, --breath or --clear."
        )
    if args.clear and about_note != ["--clear"]:
        raise ReedwrightError("--clear takes out all choices for the note; give it alone.")
    if args.harp is None and (args.tuning or args.valves):
        raise ReedwrightError("--tuning and --valves need a harp: name its key with --harp.")
    if (args.take or args.most) and args.fingerings is None:
        option = "--take" if args.take else "--most"
        raise ReedwrightError(f"{option} goes with --fingerings BAR.")
    if args.fingerings is not None and about_note:
        raise ReedwrightError("--fingerings and --at are two things; do one after the other.")


Change = Callable[["Session"], "Session"]


def _changes(args: argparse.Namespace) -> list[Change]:
    """What the options ask to be changed, settings of the tune first."""
    from reedwright.tab.choices.session import Session

    found: list[Change] = [partial(Session.forgetting, key=key) for key in args.forget or ()]
    settings = {
        "harp": args.harp and ":".join([args.harp, args.tuning or "", args.valves or ""]),
        "octaves": args.octave,
        "semitones": args.semitones,
        "player": args.player,
        "amount": args.amount,
        "second_time": None if args.second_time is None else args.second_time == "yes",
        "voice": args.voice,
    }
    named = {key: value for key, value in settings.items() if value is not None}
    if named:
        found.append(partial(Session.with_settings, **named))
    found += [partial(Session.with_weight, text=text) for text in args.weight or ()]
    if args.clear_aside:
        found.append(Session.without_aside)
    at, time = args.at, args.time
    if args.clear:
        found.append(partial(Session.cleared, at=at))
    if args.play is not None:
        found.append(partial(Session.playing, at=at, way=args.play, time=time))
    found += [partial(Session.never, at=at, way=way, time=time) for way in args.never or ()]
    if args.ornament is not None:
        found.append(partial(Session.ornamented, at=at, kind=args.ornament, time=time))
    if args.breath is not None:
        breathe = args.breath == "yes"
        found.append(partial(Session.breathing, at=at, breathe=breathe, time=time))
    return found


def _change(
    session: Session,
    changes: list[Change],
    place: ChoicesPlace,
    printed: JsonResults | None,
) -> None:
    before = session
    for change in changes:
        session = change(session)
    _write(before, session, place, printed)


def _write(
    before: Session, after: Session, place: ChoicesPlace, printed: JsonResults | None
) -> None:
    """Keep it and say what changed, what effort it costs and what does not fit."""
    outcome = after.outcome(before)  # arranges, so that nothing is written that cannot be played
    kept = place.keep(after.kept(), outcome[0] if outcome else "chosen")
    if printed is not None:
        printed.add({"file": place.name, **after.report(), "said": list(outcome)})
        return
    for line in outcome:
        print(line)
    print(kept)


def _fingerings(
    args: argparse.Namespace,
    session: Session,
    place: ChoicesPlace,
    printed: JsonResults | None,
) -> None:
    from reedwright.tab.fingerings.different import USUAL
    from reedwright.tab.fingerings.text import fingerings_report, fingerings_text
    from reedwright.tab.notation import TabStyle

    for change in _changes(args):
        session = change(session)
    bars = () if args.fingerings == WHOLE else _bars(args.fingerings)
    arrangement, fingerings = session.fingerings(bars, max(args.most or USUAL, args.take or 0))
    if args.take is not None:
        _write(session, session.taking(fingerings, args.take), place, printed)
    elif printed is not None:
        printed.add({"file": place.name, **fingerings_report(fingerings)})
    else:
        text = fingerings_text(arrangement, fingerings, TabStyle(args.style))
        print(text if shows(SIGNS) else text.translate(_ASCII))
        if len(fingerings.found) > 1:
            print("Add --take N to pin one of them.")


_ASCII = str.maketrans({"↑": "+", "↓": "-", "°": "o", "×": "x"})


def _bars(text: str) -> tuple[int, ...]:
    """`3`, `3-5` or `3,7`."""
    found: list[int] = []
    for part in text.replace(" ", "").split(","):
        first, _, last = part.partition("-")
        if not first.isdigit() or (last and not last.isdigit()):
            raise ReedwrightError(
                f"--fingerings '{text}': name a printed bar (3), several (3-4), or 'all'."
            )
        found += range(int(first), int(last or first) + 1)
    return tuple(found)
