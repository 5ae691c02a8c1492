"""What was chosen, kept as one step in the line of a tune's changes.

Public: `States`, `states_of`, `keep_step`.
"""

from __future__ import annotations

from dataclasses import replace
from typing import NamedTuple

from reedwright.shelf.belongings.arrangements import keep_choices
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import ChangedMeanwhile
from reedwright.shelf.together import revise_together
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.choices.reading import parsed_choices
from reedwright.tab.choices.writing import written_choices
from reedwright.web.music.opening import Looked, usual_arrangement

CHANGED = (
    "This tune was changed in another window meanwhile. Look at the harps again, and choose then."
)


class States(NamedTuple):
    """The numbers of the present states of a tune and of its choices (0: there are none)."""

    tune: int
    choices: int


def states_of(looked: Looked) -> States:
    there = looked.arrangement
    return States(looked.item.state.number, there.state.number if there else 0)


def keep_step(shelf: Shelf, looked: Looked, choices: TuneChoices, said: str) -> None:
    """Keep these choices, which were made from how the tune was looked at.

    Raises `ChangedMeanwhile` where the tune or its choices have other states by now.
    """
    number = looked.item.id
    with shelf.change():
        item = shelf.item(number)
        there = usual_arrangement(shelf, number)
        if states_of(replace(looked, item=item, arrangement=there)) != states_of(looked):
            raise ChangedMeanwhile(CHANGED)
        if there is None:  # before the first choice there was none: that can be gone back to
            beginning = TuneChoices(choices.title, choices.number)
            there = keep_choices(shelf, number, beginning, "nothing chosen")
        book = parsed_choices(there.state.text)
        table = 0 if book.tunes else None
        text = written_choices(book.changed(replace(choices, table=table)))
        if text != there.state.text:
            revise_together(shelf, there, item, text, said)
