"""How a tune stands now: its text as it is, and what is arranged of it, readable or not.

Public: `Standing`, `stand`, `Version`, `version_of`, `version_between`.
"""

from __future__ import annotations

from dataclasses import dataclass

from pydantic import BaseModel

from reedwright.errors import ReedwrightError
from reedwright.harp.model import Harp
from reedwright.shelf.facts.reading import HEADER
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item
from reedwright.shelf.together import earlier
from reedwright.tab.arrangement import Arrangement
from reedwright.tab.choices.session import Session
from reedwright.tune.model import Tune
from reedwright.web.music.arranging import harps_to_choose_from, settled
from reedwright.web.music.opening import Looked, looked_at, read_text, usual_arrangement
from reedwright.web.numbers import NumberOrNone

FARTHEST_BACK = 200
"""Earlier states that are looked at for one that can be read."""


# What is drawn while one types: beyond this it would take many seconds at every key. The longest of
# the 2,007 tunes of O'Neill's collection that music21 ships has 715 notes, 24 in a bar.
MOST_NOTES = 2500
MOST_IN_BAR = 256
MOST_GRACES = 64  # on one note


class Version(BaseModel):
    """The numbers of the present states of the tune and of its choices; 0 where there are none."""

    tune: NumberOrNone
    choices: NumberOrNone = 0


@dataclass(frozen=True, slots=True)
class Standing:
    """A tune as it is, with what is arranged of it.

    `session` and `arrangement` are None where nothing can be arranged; `trouble` then says why.
    `stale`: they are of an earlier text, as the present one cannot be read.
    """

    looked: Looked
    session: Session | None
    arrangement: Arrangement | None
    trouble: str
    stale: bool
    harps: tuple[Harp, ...] | None


def stand(shelf: Shelf, number: int) -> Standing:
    """Raises as `looked_at`."""
    looked = looked_at(shelf, number)
    harps = harps_to_choose_from(shelf)
    tune, stale = looked.tune, False
    if tune is None and looked.editable:
        tune = _last_read(shelf, looked.item)
        stale = tune is not None
    if tune is None:
        return Standing(looked, None, None, "", False, harps)
    trouble = _too_much(tune, (looked.choices.voice or 1) - 1)
    if trouble:
        return Standing(looked, None, None, trouble, stale, harps)
    try:
        session = settled(tune, looked.choices, harps)
        return Standing(looked, session, session.arranged(), "", stale, harps)
    except ReedwrightError as error:
        return Standing(looked, None, None, str(error), stale, harps)


def _too_much(tune: Tune, voice: int) -> str:
    """Why a tune is not arranged here; empty where it is."""
    count = 0
    for bar in tune.voices[voice].bars if voice < len(tune.voices) else ():
        notes = bar.notes
        count += len(notes)
        if len(notes) > MOST_IN_BAR:
            return (
                f"There are {len(notes)} notes in bar {bar.number}; {MOST_IN_BAR} are the most "
                "that are drawn here. Write its bar lines."
            )
        if any(len(note.graces) > MOST_GRACES for note in notes):
            return (
                f"There are more than {MOST_GRACES} grace notes on one note in bar {bar.number}; "
                "they are not drawn here. Take some out."
            )
    if count <= MOST_NOTES:
        return ""
    return (
        f"There are {count} notes in it; {MOST_NOTES} are the most that are drawn here. Make "
        "several tunes of it."
    )


def version_of(shelf: Shelf, number: int) -> Version:
    """Which states are the present ones; cheap. Raises `NotOnShelf`."""
    with shelf.reading():
        item = shelf.item(number)
        arrangement = usual_arrangement(shelf, number)
    return version_between(item, arrangement)


def version_between(item: Item, arrangement: Item | None) -> Version:
    """The version that a tune and its usual arrangement make, as they are given."""
    return Version(tune=item.state.number, choices=arrangement.state.number if arrangement else 0)


def _last_read(shelf: Shelf, item: Item) -> Tune | None:
    """The tune as it was when its text could last be read."""
    for state in earlier(shelf, item, FARTHEST_BACK):
        if state.form is Form.ABC:
            tune = read_text(state.text, str(state.about.get(HEADER, ""))).tune
            if tune is not None:
                return tune
    return None
