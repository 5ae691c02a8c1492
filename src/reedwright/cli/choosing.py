"""Options that several commands share: which tune, which harp, which player."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.errors import ReedwrightError
from reedwright.takes.practice.settings import DEFAULT_SLOW_PERCENT

if TYPE_CHECKING:
    from reedwright.harp.model import Harp
    from reedwright.player.profile import Profile
    from reedwright.tune.model import Tune
    from reedwright.tune.refused import Refused

ALL = "all"
DEFAULT_PLAYER = "player"
STYLES = ("arrows", "signs", "rows")  # of `TabStyle`, which would be long in loading

AMOUNTS = ("none", "written", "light", "medium", "full")  # of ornament

# Quarter notes a minute that --tempo takes. Nobody practises outside of these (our judgement).
SLOWEST_TEMPO, FASTEST_TEMPO = 10, 1000


class NoSuchTune(ReedwrightError):
    """The file holds no tune with that number or title."""


def add_tune_options(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "file",
        metavar="FILE",
        help="ABC, MusicXML or MIDI file; - reads ABC; shelf:N takes it from the shelf",
    )
    command.add_argument(
        "--tune",
        metavar="N",
        help="number (X:) or part of the title of the tune; 'all' for every tune (default: first)",
    )
    add_voice_option(command)


def add_voice_option(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--voice", type=positive, metavar="N", help="which voice is the tune (default 1)"
    )


def add_harp_options(command: argparse.ArgumentParser) -> None:
    command.add_argument("--harp", metavar="KEY", help="key of the harp: G, 'low D', Bb")
    command.add_argument(
        "--tuning", metavar="NAME", help="tuning by name, or a file of your own (default richter)"
    )
    command.add_argument(
        "--valves",
        metavar="WHICH",
        help="none, half, full, or reeds such as 'blow 1-6, draw 7-10' (default: as made)",
    )
    command.add_argument(
        "--octave",
        type=int,
        metavar="N",
        help="move the tune by N octaves, such as -1 (default 0 with --harp, else the best)",
    )
    command.add_argument("--semitones", type=int, metavar="N", help="move the tune to another key")


def add_style_option(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--style", choices=STYLES, default="arrows", help="how the tab is written (default arrows)"
    )


def add_speeds_option(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--speeds",
        type=percents,
        default=(DEFAULT_SLOW_PERCENT,),
        metavar="P,P",
        help="percents of the tempo for tracks beside the full one "
        f"(default {DEFAULT_SLOW_PERCENT})",
    )


def add_tempo_option(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--tempo",
        type=tempo,
        metavar="N",
        help="quarter notes a minute at full speed (default: the tune's own, or its type's)",
    )


def add_player_option(command: argparse._ActionsContainer) -> None:
    command.add_argument(
        "--player",
        metavar="PROFILE",
        help="first-year, player, all-techniques, one of your own (`reedwright player` lists them) "
        "or a profile file (default player)",
    )


def add_ranking_options(command: argparse._ActionsContainer) -> None:
    command.add_argument(
        "--owned",
        metavar="LIST",
        help="only these harps, such as 'C, G:richter-raised-3-blow, low D', or 'shelf' for those "
        "on the shelf (default: those that the player's profile lists, else all)",
    )
    command.add_argument(
        "--any-harp",
        action="store_true",
        help="every harp, also those that the player does not own",
    )


def add_json_option(command: argparse.ArgumentParser) -> None:
    command.add_argument("--json", action="store_true", help="print JSON (docs/formats.md)")


def percents(text: str) -> tuple[int, ...]:
    parts = [part.strip().rstrip("%") for part in text.split(",")]
    try:
        speeds = [int(part) for part in parts if part]
    except ValueError:
        speeds = []
    if not speeds:
        raise argparse.ArgumentTypeError(f"{text!r} is no list of percents such as 80,55")
    return tuple(dict.fromkeys(speeds))


def positive(text: str) -> int:
    number = int(text)
    if number < 1:
        raise argparse.ArgumentTypeError(f"{text} is not 1 or more")
    return number


def tempo(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = 0.0
    if not SLOWEST_TEMPO <= number <= FASTEST_TEMPO:  # so also for "nan"
        raise argparse.ArgumentTypeError(
            f"{text!r} is no tempo; give a number from {SLOWEST_TEMPO} to {FASTEST_TEMPO}"
        )
    return number


def player(args: argparse.Namespace) -> Profile:
    from reedwright.player.loading import load_profile

    return load_profile(args.player or DEFAULT_PLAYER)


def named_harp(args: argparse.Namespace) -> Harp | None:
    """The harp that the options name, or None where they leave it open."""
    if args.harp is None:
        if args.tuning is not None or args.valves is not None:
            raise ReedwrightError("--tuning and --valves need a harp: name its key with --harp.")
        return None
    from reedwright.harp.making import parse_harp

    return parse_harp(args.harp, tuning=args.tuning, valves=args.valves)


def owned_harps(args: argparse.Namespace) -> tuple[Harp, ...] | None:
    """The harps to choose from, or None for all; told once where the profile limits them."""
    limited = _limited_harps(args)
    if limited is not None and args.owned is None and not getattr(args, "told_of_harps", False):
        args.told_of_harps = True
        from reedwright.tab.words import listed

        owner = player(args)
        owned = listed(owner.harps) if len(owner.harps) <= _FEW else f"{len(limited)} harps"
        tell(f"'{owner.name}' owns {owned}; only these are looked at (--any-harp for all).")
    return limited


_FEW = 6  # harps that are named one by one


def _limited_harps(args: argparse.Namespace) -> tuple[Harp, ...] | None:
    """Read once, and not anew for each tune of a book."""
    if not hasattr(args, "limited_harps"):
        args.limited_harps = _read_harps(args)
    found: tuple[Harp, ...] | None = args.limited_harps
    return found


def _read_harps(args: argparse.Namespace) -> tuple[Harp, ...] | None:
    any_harp = args.any_harp
    if args.owned is not None:
        if any_harp:
            raise ReedwrightError("--owned and --any-harp exclude each other; leave out one.")
        from reedwright.cli import shelved

        if args.owned.strip().lower() == shelved.OWNED:
            return shelved.owned_harps()
        from reedwright.tab.owned.harps import owned_from

        return tuple(harp for _, harp in owned_from(args.owned))
    if any_harp:
        return None
    from reedwright.tab.owned.harps import owned_by

    return owned_by(player(args))


def check_choices(args: argparse.Namespace) -> None:
    """What is wrong with the player or a harp that was named is told before the first tune."""
    player(args)
    named_harp(args)
    _limited_harps(args)


def all_tunes(file: str) -> Iterator[Tune | Refused]:
    """Every tune of a file in order, `-` being standard input, `shelf:` a place on the shelf."""
    from reedwright.cli import shelved
    from reedwright.tune.reading import read_tunes

    if shelved.is_shelved(file):
        return shelved.shelved_tunes(file)
    if file == "-":
        return _standard_input()
    return read_tunes(Path(file))


def _standard_input() -> Iterator[Tune | Refused]:
    from reedwright.tune.abc import read_tunebook
    from reedwright.tune.reading import decoded_lines

    found = False
    if sys.stdin is not None:  # None where it was closed
        for tune in read_tunebook(decoded_lines(sys.stdin.buffer), "standard input"):
            found = True
            yield tune
    if not found:
        raise ReedwrightError(
            "standard input: there is no tune in it. A tune in ABC begins with a line `X:1`."
        )


def chosen_tunes(args: argparse.Namespace) -> Iterator[Tune]:
    """The tunes that `--tune` asks for; refused ones are told of and passed over."""
    from reedwright.tune.refused import Refused

    found = all_tunes(args.file)
    if args.tune == ALL:
        for tune in found:
            if isinstance(tune, Refused):
                tell(str(tune.error))
                args.refused = True
            else:
                yield tune
        return
    if args.tune is None:
        first_two = list(islice(found, 2))
        if len(first_two) > 1:
            tell(f"{args.file} holds several tunes; this is the first. {_how_to_choose(args)}")
        chosen = first_two[0] if first_two else None
    else:
        chosen = _matching(found, args.tune)
    if chosen is None:
        raise NoSuchTune(
            f"{args.file}: no tune with number or title {args.tune!r}. "
            f"`reedwright read {args.file}` lists what it holds."
        )
    if isinstance(chosen, Refused):
        raise chosen.error
    yield chosen


def _how_to_choose(args: argparse.Namespace) -> str:
    """By `--tune`, but in a command for one tune, where that names the file, by its own option."""
    option = getattr(args, "one_tune_option", None)
    if option is not None:
        return f"{option} N chooses another."
    return "--tune N chooses another, --tune all takes every one."


@contextmanager
def one_of_many(args: argparse.Namespace, tune: Tune) -> Iterator[None]:
    """What is wrong with one tune of `--tune all` is told, and the next one has its turn."""
    try:
        yield
    except ReedwrightError as error:
        if args.tune != ALL:
            raise
        tell_of(tune, str(error))
        args.refused = True


def _matching(tunes: Iterator[Tune | Refused], wanted: str) -> Tune | Refused | None:
    """The tune of that number; where there is none, the first with that in its title."""
    from reedwright.tune.refused import Refused

    by_title: Tune | Refused | None = None
    for tune in tunes:
        if tune.number == wanted:
            return tune
        titles = (tune.title,) if isinstance(tune, Refused) else tune.titles
        if by_title is None and any(wanted.casefold() in title.casefold() for title in titles):
            by_title = tune
    return by_title


def checked_voice(args: argparse.Namespace, tune: Tune) -> int:
    """Index of the voice asked for."""
    voice: int = args.voice or 1
    if voice > len(tune.voices):
        raise ReedwrightError(
            f"{tune.title}: there is no voice {voice}; the tune has {len(tune.voices)}."
        )
    return voice - 1


def tell(message: str) -> None:
    """A word to the user beside the output proper."""
    print(f"reedwright: {message}", file=sys.stderr)


def tell_of(tune: Tune, message: str) -> None:
    """The same, with the tune that it is about, unless the message names it."""
    tell(message if message.startswith(tune.title) else f"{tune.title}: {message}")


def status(args: argparse.Namespace) -> int:
    """1 where a tune of the batch was refused."""
    return 1 if getattr(args, "refused", False) else 0
