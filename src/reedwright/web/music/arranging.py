"""A tune arranged as its choices ask, on their harp or the one that it lies best on.

Public: `arranged`, `harps_to_choose_from`.
"""

from __future__ import annotations

from dataclasses import replace

from reedwright.harp.model import Harp
from reedwright.harp.written import harp_text
from reedwright.shelf.belongings.harps import harps_on
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.best import easiest
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.choices.session import Session
from reedwright.tune.model import Tune


def harps_to_choose_from(shelf: Shelf) -> tuple[Harp, ...] | None:
    """Those on the shelf; None, which is all that there are, where it has none."""
    return tuple(dict.fromkeys(harp for _, harp in harps_on(shelf))) or None


def settled(tune: Tune, choices: TuneChoices, harps: tuple[Harp, ...] | None) -> Session:
    """The choices with a harp: the one they name, or the easiest of those given."""
    session = Session(tune, choices)
    if choices.harp:
        return session
    asked = (-1, 0, 1) if choices.octaves is None else (choices.octaves,)
    best = easiest(
        tune, session.profile, harps, session.voice, asked, semitones=choices.semitones or 0
    )
    return Session(tune, replace(choices, harp=harp_text(best.harp), octaves=best.octaves))


def arranged(tune: Tune, choices: TuneChoices, harps: tuple[Harp, ...] | None) -> Arrangement:
    """Raises `NoHarp` where the tune has no notes, `ChoicesError`."""
    return settled(tune, choices, harps).arranged()
