"""Arranging a tune as the command line asks: options, choices, the harp it lies best on."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from reedwright.cli import choosing, honouring

if TYPE_CHECKING:
    from reedwright.cli.honouring import Honoured
    from reedwright.harp.model import Harp
    from reedwright.tab.arrangement import Arrangement
    from reedwright.tune.model import Tune

MOST_BALANCE = 100
MUCH_EASIER = 0.75  # of the effort: then another octave is worth a word


def add_arrangement_options(command: argparse.ArgumentParser) -> None:
    """All that `arrangement` looks at: tune, harp, player, tempo, and what the tab is to be."""
    choosing.add_tune_options(command)
    choosing.add_harp_options(command)
    choosing.add_player_option(command)
    choosing.add_tempo_option(command)
    choosing.add_ranking_options(command)
    add_arranging_options(command)


def add_arranging_options(command: argparse.ArgumentParser) -> None:
    """What a tab is to be like: ornaments, balance of breath, the teacher's choices."""
    command.add_argument(
        "--amount",
        choices=choosing.AMOUNTS,
        help="how much ornament: none, as written (default), or with suggestions",
    )
    command.add_argument(
        "--second-time",
        action=argparse.BooleanOptionalAction,
        help="write out the repeats and ornament the second time otherwise",
    )
    command.add_argument(
        "--balance",
        type=balance,
        metavar="W",
        help="what an even breath is worth against effort: 0 nothing (default), 0.2 some, 1 much",
    )
    honouring.add_choices_options(command)


def balance(text: str) -> float:
    try:
        number = float(text)
    except ValueError:
        number = -1.0
    if not 0 <= number <= MOST_BALANCE:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no weight; give a number from 0 to {MOST_BALANCE}"
        )
    return number


def arrangement(args: argparse.Namespace, tune: Tune) -> Arrangement:
    """The tune as options and choices ask, on their harp or else on the best ranked one."""
    from reedwright.tab.arrange import arrange

    asked = honouring.chosen(args, tune)
    if len(tune.voices) > 1:
        choosing.tell(
            f"{tune.title} has {len(tune.voices)} voices; this is voice {asked.voice + 1}."
        )
    profile = asked.profile
    if getattr(args, "balance", None) is not None:
        profile = replace(profile, weights=replace(profile.weights, breath_balance=args.balance))
    if getattr(args, "second_time", None) is not None:
        asked = replace(asked, choices=replace(asked.choices, second_time=args.second_time))
    harp, octaves = asked.harp, asked.octaves or 0
    if harp is None:
        harp, octaves = _best(args, tune, replace(asked, profile=profile))
    elif asked.octaves is None:
        _tell_of_octaves(args, tune, replace(asked, profile=profile))
    wishes = asked.wishes(harp, octaves)
    if getattr(args, "amount", None) is not None:
        from reedwright.tab.choices.entries import amount_of

        wishes = replace(wishes, amount=amount_of(args.amount))
    return arrange(tune, harp, profile, asked.voice, octaves, asked.semitones, args.tempo, wishes)


def _tell_of_octaves(args: argparse.Namespace, tune: Tune, asked: Honoured) -> None:
    """On the harp that is named: whether the tune would lie much easier an octave away."""
    from reedwright.tab.ranking import rank_harps
    from reedwright.tab.words import counted
    from reedwright.tune.transpose import transposed

    assert asked.harp is not None
    moved = transposed(tune, semitones=asked.semitones)
    ranked = rank_harps(
        moved, asked.profile, (asked.harp,), asked.voice, quarters_per_minute=args.tempo
    )
    here = next((each for each in ranked if not each.octaves), None)
    if here is None or not ranked[0].octaves:
        return
    best = ranked[0]
    if best.missing < here.missing or best.effort < MUCH_EASIER * here.effort:
        gained = here.missing - best.missing
        fewer = f", and {counted(gained, 'note')} fewer missing" if gained > 0 else ""
        choosing.tell(
            f"{tune.title}: {best.octaves:+d} octave it would be easier on this harp: effort "
            f"{best.effort:.0f} instead of {here.effort:.0f}{fewer}. Add --octave {best.octaves}."
        )


def _best(args: argparse.Namespace, tune: Tune, asked: Honoured) -> tuple[Harp, int]:
    """The harp that the tune lies best on, and the octaves to move it by."""
    from reedwright.tab.best import easiest
    from reedwright.tab.words import with_article

    best = easiest(
        tune,
        asked.profile,
        choosing.owned_harps(args),
        asked.voice,
        (-1, 0, 1) if asked.octaves is None else (asked.octaves,),
        args.tempo,
        asked.semitones,
    )
    moved = f", the tune moved by {best.octaves:+d} octave" if best.octaves else ""
    choosing.tell(
        f"{tune.title}: no harp named; it lies best on {with_article(best.harp.name)}{moved}."
    )
    return best.harp, best.octaves
