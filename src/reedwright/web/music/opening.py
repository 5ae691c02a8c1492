"""A tune of the shelf with what is decided about it.

Public: `OpenTune`, `opened`.
"""

from __future__ import annotations

from dataclasses import dataclass

from reedwright.shelf.belongings.arrangements import choices_on
from reedwright.shelf.facts.reading import tune_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item, Kind, NotOnShelf
from reedwright.tab.choices.model import TuneChoices
from reedwright.tune.model import Tune


@dataclass(frozen=True, slots=True)
class OpenTune:
    """`item`: the tune on the shelf; `choices`: those of its usual arrangement."""

    item: Item
    tune: Tune
    choices: TuneChoices


def opened(shelf: Shelf, number: int) -> OpenTune:
    """Raises `NotOnShelf` where no tune has that number, `ShelfError` for one that can't be
    read."""
    with shelf.reading():
        item = shelf.item(number)
        if item.kind is not Kind.TUNE:
            raise NotOnShelf(f"There is no tune with the number {number} on the shelf.")
        tune = tune_of(shelf, item)
        choices = choices_on(shelf, number) or TuneChoices(tune.title, tune.number)
    return OpenTune(item, tune, choices)
