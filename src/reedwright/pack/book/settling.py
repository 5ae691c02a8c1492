"""How a tune of a book is to be played, from all that bears on it.

What the plan says of the tune goes first, then the teacher's choices for it, then what the plan
says of all tunes. Public: `settle`, `both`, `address_of`, `Usual`.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from typing import Any

from reedwright.errors import ReedwrightError
from reedwright.harp.making import made_harps, parse_harp
from reedwright.harp.model import Harp
from reedwright.harp.tunings import find_tuning
from reedwright.pack.book.asked import Overrides
from reedwright.pack.book.model import PlannedTune
from reedwright.player.loading import load_profile
from reedwright.player.profile import Profile
from reedwright.tab.choices import TuneChoices, with_weights
from reedwright.tab.ornaments.model import Amount
from reedwright.tab.wishes import Wishes
from reedwright.tune.model import Tune


class NotSo(ReedwrightError):
    """A tune cannot be played as the plan says."""


@dataclass(frozen=True, slots=True)
class Usual:
    """What holds for tunes of which nothing else is said. `harps`: to choose from, None for all."""

    player: Profile
    harps: tuple[Harp, ...] | None = None
    amount: Amount | None = None
    second_time: bool = False
    base_address: str = ""
    profile: Callable[[str], Profile] = load_profile


def settle(
    name: str, tune: Tune, said: Overrides, choices: TuneChoices | None, usual: Usual
) -> PlannedTune:
    """The planned tune. Raises `NotSo`, `HarpError`, `TuningError`, `ProfileError`."""
    chosen = choices or TuneChoices()
    player = usual.player
    if said.player or chosen.player:
        player = usual.profile(said.player or chosen.player)
    voice = said.voice or chosen.voice or 1
    if voice > len(tune.voices):
        raise NotSo(f"there is no voice {voice}; the tune has {len(tune.voices)}")
    harp = _harp(said, chosen)
    amount = said.amount or chosen.amount or usual.amount or Amount.WRITTEN
    second = said.second_time
    if second is None:
        second = chosen.second_time or usual.second_time
    octaves = said.octave if said.octave is not None else chosen.octaves
    semitones = said.semitones if said.semitones is not None else chosen.semitones
    return PlannedTune(
        name=name,
        tune=tune,
        player=with_weights(player, chosen),
        harp=harp,
        harps=None if harp is not None else _of_tuning(said.tuning, usual.harps),
        octaves=octaves,
        semitones=semitones or 0,
        voice=voice - 1,
        tempo=said.tempo,
        wishes=Wishes(amount=amount, second_time=second),
        words=said.words,
        address=said.address or address_of(usual.base_address, name),
        sold=bool(said.sold),
        choices=_worth_keeping(chosen, amount, second),
    )


def both(first: Overrides, then: Overrides) -> Overrides:
    """What `first` says, and where it is silent what `then` does."""
    changes: dict[str, Any] = {}
    for each in fields(Overrides):
        value = getattr(first, each.name)
        if value is None or value == "":
            changes[each.name] = getattr(then, each.name)
    return replace(first, **changes)


PAGES_OF_SITES = ("index", "indexes", "about")
"""Names that a web site has for other pages than tunes."""


def address_of(base: str, name: str) -> str:
    """Where a tune's page is on a web site: `https://example.org/tunes/the-ferry.html`."""
    return f"{base.rstrip('/')}/{name}.html" if base else ""


def _harp(said: Overrides, choices: TuneChoices) -> Harp | None:
    if said.harp:
        return parse_harp(said.harp, tuning=said.tuning or None, valves=said.valves or None)
    if choices.harp and not said.tuning:
        return parse_harp(choices.harp)
    return None


def _of_tuning(tuning: str, harps: tuple[Harp, ...] | None) -> tuple[Harp, ...] | None:
    """Those harps alone that have a tuning, where one is named."""
    if not tuning:
        return harps
    wanted = find_tuning(tuning)
    if harps is None:
        return made_harps([wanted])
    found = tuple(harp for harp in harps if harp.tuning == wanted)
    if not found:
        raise NotSo(f"none of the plan's harps is in the tuning '{tuning}'; name a 'harp', too")
    return found


def _worth_keeping(choices: TuneChoices, amount: Amount, second_time: bool) -> TuneChoices | None:
    """Only what is decided about single notes: the rest is settled here."""
    if not choices.choices and not choices.aside:
        return None
    return replace(choices, table=None, amount=amount, second_time=second_time)
