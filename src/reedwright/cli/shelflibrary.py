"""The shelf as a plan of a book may ask it: searched, named, and what was decided of its tunes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from reedwright.cli import shelved

if TYPE_CHECKING:
    from reedwright.pack.book.pool import Library
    from reedwright.tune.model import Tune

EVERY = 1_000_000  # tunes: all that is found


def shelf_library() -> Library:
    """Opened only where a plan asks."""
    from reedwright.pack.book.pool import Library

    return Library(_searched, _named, shelved.choices_for)


def _searched(wanted: Mapping[str, object]) -> Sequence[Tune]:
    from reedwright.shelf.finding.asking import wanted_from
    from reedwright.shelf.finding.searching import search
    from reedwright.shelf.keeping.opening import open_shelf

    asked = wanted_from(wanted)
    if "limit" not in wanted:
        asked = replace(asked, limit=EVERY)
    with open_shelf(make=False) as shelf:
        hits = search(shelf, asked).hits
        return [shelved.tune_on(shelf, shelf.item(hit.item)) for hit in hits]


def _named(place: str) -> Sequence[Tune]:
    from reedwright.tune.refused import Refused

    found = []
    for tune in shelved.shelved_tunes(place):
        if isinstance(tune, Refused):
            raise tune.error
        found.append(tune)
    return found
