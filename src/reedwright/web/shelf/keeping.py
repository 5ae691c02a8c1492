"""What the shelf keeps of one tune, as its page shows it: states, what belongs to it, settings.

Public: `TuneKept`, `Story`, `StateShown`, `kept_of`, `story_of`, `changed_lines`.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from reedwright.shelf.facts.keeping import facts_on
from reedwright.shelf.facts.model import TuneFacts
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.likenesses.deciding import offers, settings_of
from reedwright.shelf.likenesses.model import Offer
from reedwright.shelf.model import Item, Kind, Role, State
from reedwright.tune.likeness.differing import differing_words

MOST_STATES = 200  # of one item on the page, the newest ones
MOST_OFFERS = 20
LONGEST_DIFFERENCE = 60  # lines


@dataclass(frozen=True, slots=True)
class StateShown:
    """`lines`: what differs from the state that it was made from, each with `+` or `-` before it;
    `more` how many lines stand beyond those."""

    number: int
    parent: int
    at: datetime
    said: str
    now: bool
    lines: tuple[str, ...]
    more: int


@dataclass(frozen=True, slots=True)
class Story:
    """An item with its states, the newest first, and whether it can go back or forward."""

    item: Item
    states: tuple[StateShown, ...]
    earlier: int
    can_undo: bool
    can_redo: bool


@dataclass(frozen=True, slots=True)
class OfferShown:
    other: int
    title: str
    alike: str
    words: str


@dataclass(frozen=True, slots=True)
class TuneKept:
    """`belongs`: by the kind of what belongs to the tune."""

    story: Story
    arrangements: tuple[Story, ...]
    facts: TuneFacts | None
    belongs: dict[str, tuple[Item, ...]]
    settings: tuple[Item, ...]
    offers: tuple[OfferShown, ...]


def kept_of(shelf: Shelf, number: int) -> TuneKept:
    """Raises `NotOnShelf` where no tune has that number; one that was taken off is shown, too."""
    with shelf.reading():
        item = shelf.item(number, Kind.TUNE)
        linked = {link.item: link.role for link in shelf.linked_to(number)}
        found = [shelf.item(each) for each in linked]
        arrangements = [
            each
            for each in found
            if each.kind is Kind.ARRANGEMENT and linked[each.id] is Role.OF and not each.removed
        ]
        belongs = {
            kind.value: tuple(each for each in found if each.kind is kind)
            for kind in (Kind.TAKE, Kind.PACK, Kind.LESSON, Kind.LIST)
        }
        return TuneKept(
            story_of(shelf, item),
            tuple(story_of(shelf, each) for each in arrangements),
            facts_on(shelf, number),
            belongs,
            tuple(shelf.item(each) for each in settings_of(shelf, number)),
            tuple(_shown(each, number) for each in offers(shelf, number, MOST_OFFERS)),
        )


def _shown(offer: Offer, number: int) -> OfferShown:
    first = offer.one == number
    return OfferShown(
        offer.other if first else offer.one,
        offer.other_title if first else offer.title,
        f"{offer.score:.0%}",
        differing_words(offer.differing),
    )


def story_of(shelf: Shelf, item: Item) -> Story:
    """The item's states; what differs is worked out for the newest of them."""
    states = shelf.states(item.id)
    by_number = {state.number: state for state in states}
    shown = [_state(state, by_number, item) for state in states[-MOST_STATES:][::-1]]
    return Story(
        item,
        tuple(shown),
        max(0, len(states) - MOST_STATES),
        item.removed or item.state.parent > 0,
        not item.removed and shelf.can_redo(item.id),
    )


def _state(state: State, by_number: dict[int, State], item: Item) -> StateShown:
    before = by_number.get(state.parent)
    lines: tuple[str, ...] = ()
    more = 0
    if before is not None:
        lines, more = changed_lines(before.text, state.text)
    return StateShown(
        state.number,
        state.parent,
        state.at.astimezone(),
        state.said,
        state.number == item.state.number,
        lines,
        more,
    )


def changed_lines(before: str, after: str) -> tuple[tuple[str, ...], int]:
    """Lines that went (`-`) and came (`+`), in order, and how many there are beyond the most."""
    old, new = before.splitlines(), after.splitlines()
    if len(old) * len(new) > 1_000_000:  # some seconds, for what nobody reads line by line
        return (), 0
    found = list(_changes(difflib.ndiff(old, new)))
    return tuple(found[:LONGEST_DIFFERENCE]), max(0, len(found) - LONGEST_DIFFERENCE)


def _changes(lines: Iterable[str]) -> Iterable[str]:
    return (f"{line[0]} {line[2:]}" for line in lines if line[0] in "+-")
