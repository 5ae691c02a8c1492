"""From what a book's page asks for to the plan that is made, with the shelf as its library.

Public: `planned`, `number_of`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from reedwright.pack.book.plan import ReadPlan, read_plan
from reedwright.pack.book.pool import LIBRARY_PREFIX, Library, NotFound
from reedwright.shelf.belongings.arrangements import choices_on
from reedwright.shelf.facts.reading import tune_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Kind
from reedwright.tab.choices.model import TuneChoices
from reedwright.tune.model import Tune
from reedwright.web.book.asked import BookAsked
from reedwright.web.book.kept import owned_texts
from reedwright.web.book.planfile import as_file, plan_text


def planned(shelf: Shelf, asked: BookAsked) -> ReadPlan:
    """Raises `PlanError`, and what a harp's or a player's name may be refused for."""
    with as_file(plan_text(asked, owned_texts(shelf))) as path:
        read = read_plan(path, _library(shelf))
        where = (f"{path}, ", f"{path}: ", f"{path}")
    notices = []
    for notice in read.notices:
        for words in where:
            notice = notice.replace(words, "")
        notices.append(notice)
    return ReadPlan(read.plan, tuple(notices))


def number_of(tune: Tune) -> int:
    """Of a tune of the shelf, its number there; 0 for others."""
    number = tune.source.removeprefix(LIBRARY_PREFIX)
    return int(number) if tune.source.startswith(LIBRARY_PREFIX) and number.isdecimal() else 0


def _library(shelf: Shelf) -> Library:
    def searched(wanted: Mapping[str, object]) -> Sequence[Tune]:
        raise NotFound("books of the shelf name their tunes")

    def named(place: str) -> Sequence[Tune]:
        item = shelf.item(int(place.removeprefix(LIBRARY_PREFIX)))
        if item.kind is not Kind.TUNE or item.removed:
            raise NotFound(f"'{item.name}' was taken off the shelf and is left out")
        return [replace(tune_of(shelf, item), source=f"{LIBRARY_PREFIX}{item.id}")]

    def choices(tune: Tune) -> TuneChoices | None:
        number = number_of(tune)
        return choices_on(shelf, number) if number else None

    return Library(searched, named, choices)
