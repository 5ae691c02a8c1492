"""The teacher's choices on the command line: which file, and what they ask of a tune.

Options on the command line go before what the file says.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from reedwright.cli import choosing, shelved
from reedwright.errors import ReedwrightError

if TYPE_CHECKING:
    from reedwright.harp.model import Harp
    from reedwright.player.profile import Profile
    from reedwright.tab.choices import ChoiceBook, TuneChoices
    from reedwright.tab.wishes import Wishes
    from reedwright.tune.model import Tune


def add_choices_options(command: argparse.ArgumentParser) -> None:
    which = command.add_mutually_exclusive_group()
    which.add_argument(
        "--choices",
        metavar="FILE",
        help="the teacher's choices (default: the .arrangement.toml beside the tunes, if any)",
    )
    which.add_argument(
        "--no-choices", action="store_true", help="as if nothing had been chosen by hand"
    )


@dataclass(frozen=True, slots=True)
class Honoured:
    """What options and file together say of one tune. `path` is None where there is no file.

    `harp` is None where neither names one, `octaves` where neither says. `voice` is an index.
    """

    tune: Tune
    choices: TuneChoices
    path: Path | None
    harp: Harp | None
    octaves: int | None
    semitones: int
    voice: int
    profile: Profile

    def wishes(self, harp: Harp, octaves: int = 0) -> Wishes:
        """What the choices ask on this harp; what cannot be honoured is told to the user."""
        from reedwright.tab.choices import resolve

        resolved = resolve(self.choices, self.tune, harp, self.voice, octaves, self.semitones)
        for notice in resolved.notices:
            choosing.tell_of(self.tune, notice)
        return resolved.wishes


def chosen(args: argparse.Namespace, tune: Tune) -> Honoured:
    """What the file of choices and the options say of a tune.

    Raises `ChoicesError` for a file that cannot be used.
    """
    from reedwright.tab.choices import with_weights

    choices = choices_of(args, tune)
    return Honoured(
        tune=tune,
        choices=choices,
        path=choices_file(args),
        harp=_harp(args, choices),
        octaves=args.octave if args.octave is not None else choices.octaves,
        semitones=args.semitones if args.semitones is not None else choices.semitones or 0,
        voice=_voice(args, tune, choices),
        profile=with_weights(_player(args, choices), choices),
    )


def chosen_player(args: argparse.Namespace, tune: Tune) -> tuple[Profile, int]:
    """The player and the voice (by index) that options and choices name, for any harp."""
    from reedwright.tab.choices import with_weights

    choices = choices_of(args, tune)
    return with_weights(_player(args, choices), choices), _voice(args, tune, choices)


def choices_of(args: argparse.Namespace, tune: Tune) -> TuneChoices:
    """What the file says of a tune, or the shelf of one of its tunes; else nothing."""
    from reedwright.tab.choices import TuneChoices

    if not getattr(args, "no_choices", False) and getattr(args, "choices", None) is None:
        kept = shelved.choices_for(tune)
        if kept is not None:
            return kept
    path = choices_file(args)
    if path is None:
        return TuneChoices(tune.title, tune.number)
    return book_of(args, path).of(tune, names_in_book(args))


def choices_file(args: argparse.Namespace) -> Path | None:
    """The file that is named, or the one beside the tunes if there is one."""
    from reedwright.tab.choices import choices_path

    if getattr(args, "no_choices", False):
        return None
    named = getattr(args, "choices", None)
    if named is not None:
        path = Path(named).expanduser()
        if not path.exists():
            raise ReedwrightError(
                f"{path}: there is no such file of choices. `reedwright choose` makes one."
            )
        return path
    if args.file == "-" or shelved.is_shelved(args.file):
        return None
    beside = choices_path(Path(args.file))
    return beside if beside.exists() else None


def book_of(args: argparse.Namespace, path: Path) -> ChoiceBook:
    """Read once for all tunes of a command."""
    from reedwright.tab.choices import read_choices

    if not hasattr(args, "choice_book"):
        args.choice_book = read_choices(path)
    book: ChoiceBook = args.choice_book
    return book


def names_in_book(args: argparse.Namespace) -> frozenset[tuple[str, str]]:
    """Number and title of all tunes in the file, so that no table is taken for another tune's."""
    if not hasattr(args, "names_in_book"):
        args.names_in_book = _names(args.file)
    found: frozenset[tuple[str, str]] = args.names_in_book
    return found


def _names(file: str) -> frozenset[tuple[str, str]]:
    """ABC only: files of other formats hold one tune. The fields alone are looked at."""
    if file == "-" or not file.endswith(".abc"):
        return frozenset()
    try:
        lines = Path(file).read_bytes().decode("utf-8", "replace").splitlines()
    except OSError:
        return frozenset()
    found: set[tuple[str, str]] = set()
    number = ""
    for line in lines:
        text = line[2:].partition("%")[0].strip()
        if line.startswith("X:"):
            number = text
        elif line.startswith("T:"):
            found.add((number, text))
    return frozenset(found)


def _harp(args: argparse.Namespace, choices: TuneChoices) -> Harp | None:
    if args.harp is None and choices.harp:
        from reedwright.harp.making import parse_harp

        if args.tuning is None and args.valves is None:
            return parse_harp(choices.harp)
        # The key of the file's harp, in the tuning or with the valves that were asked for.
        key, _, rest = choices.harp.partition(":")
        tuning, _, valves = rest.partition(":")
        return parse_harp(key, tuning=args.tuning or tuning or None, valves=args.valves or valves)
    return choosing.named_harp(args)


def _voice(args: argparse.Namespace, tune: Tune, choices: TuneChoices) -> int:
    if args.voice is None and choices.voice:
        if choices.voice > len(tune.voices):
            raise ReedwrightError(
                f"{tune.title}: the choices are for voice {choices.voice}; "
                f"the tune has {len(tune.voices)}. Correct 'voice' in the file of choices."
            )
        return choices.voice - 1
    return choosing.checked_voice(args, tune)


def _player(args: argparse.Namespace, choices: TuneChoices) -> Profile:
    if choices.player and args.player is None:
        from reedwright.player.loading import load_profile

        return load_profile(choices.player)
    return choosing.player(args)
