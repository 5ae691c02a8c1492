"""Which table of the arrangement file belongs to a tune.

By title first (any of the tune's titles; case and spaces do not count), unless another tune of
the book has that title and the table's number. Where several tables have the title, the one with
the most choices that find their note in this tune, then the one with the same number, then the
first. Where none has it, the table with the same number, unless another tune of the tunebook has
that table's title, or more of its choices fail than fit.

Public: `choices_of`.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from reedwright.tab.choices.finding import find_notes
from reedwright.tab.choices.model import TuneChoices
from reedwright.tab.choices.places import note_places
from reedwright.tune.model import Tune


def choices_of(
    tables: Sequence[TuneChoices], tune: Tune, in_book: Collection[tuple[str, str]] = ()
) -> TuneChoices:
    """The tune's choices among `tables`; empty ones, ready to be filled, where it has none.

    `in_book`: number and title of all tunes of the tunebook (a tune with several titles as
    often). A table that is another tune's is not taken for this one.
    """
    titles = {_plain(title) for title in tune.titles}
    others = {
        (number, _plain(title))
        for number, title in in_book
        if number != tune.number or _plain(title) not in titles
    }
    named = [
        each
        for each in tables
        if _plain(each.title) in titles and (each.number, _plain(each.title)) not in others
    ]
    if len(named) == 1:
        return named[0]
    if named:
        return max(
            named, key=lambda each: (_fit(each, tune), each.number == tune.number, -_order(each))
        )
    other_titles = {title for _, title in others}
    numbered = [
        each
        for each in tables
        if tune.number
        and each.number == tune.number
        and _plain(each.title) not in other_titles - titles
        and 2 * _fit(each, tune) >= len(each.choices)
    ]
    if numbered:
        return max(numbered, key=lambda each: (_fit(each, tune), -_order(each)))
    return TuneChoices(title=tune.titles[0] if tune.titles else "", number=tune.number)


def _plain(title: str) -> str:
    return " ".join(title.casefold().split())


def _order(choices: TuneChoices) -> int:
    return choices.table or 0


def _fit(choices: TuneChoices, tune: Tune) -> int:
    voice = choices.voice - 1 if choices.voice else 0
    return len(find_notes(choices.choices, note_places(tune, voice)))
