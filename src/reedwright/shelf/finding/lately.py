"""What was worked on last.

Public: `Lately`, `latest_tunes`.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import islice

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Item

# The newest items of each kind, and all that were changed since they came. To ask every state for
# its time would read all texts of the shelf. (`+kind`: one walk through the small rows of items is
# five times as fast as their index by kind and name.)
_CANDIDATES = (
    "SELECT id FROM (SELECT id FROM item WHERE +kind = ?1 AND removed = 0 "
    "ORDER BY id DESC LIMIT ?2) UNION "
    "SELECT id FROM item WHERE +kind = ?1 AND removed = 0 AND (state > 1 OR left_at > 0)"
)
_TIMES = (
    "SELECT CASE item.kind WHEN 'tune' THEN item.id ELSE "
    "(SELECT to_item FROM link WHERE link.item = item.id AND role = 'of' LIMIT 1) END AS tune, "
    "max(state.at) AS latest FROM item "
    "JOIN state ON state.item = item.id AND state.number = item.state "
    f"WHERE item.id IN ({_CANDIDATES}) GROUP BY tune ORDER BY latest DESC LIMIT ?2"
)


@dataclass(frozen=True, slots=True)
class Lately:
    """A tune, and when it or its arrangement was last changed (UTC)."""

    item: Item
    at: datetime


def latest_tunes(shelf: Shelf, most: int) -> tuple[Lately, ...]:
    """The tunes changed last, the latest first."""
    found: dict[int, str] = {}
    for kind in ("tune", "arrangement"):
        for tune, at in shelf.db.execute(_TIMES, (kind, most)):
            if tune is not None and at > found.get(tune, ""):
                found[int(tune)] = str(at)
    ordered = sorted(found, key=lambda tune: (found[tune], tune), reverse=True)
    items = ((shelf.item(tune), found[tune]) for tune in ordered)
    there = (Lately(item, datetime.fromisoformat(at)) for item, at in items if not item.removed)
    return tuple(islice(there, most))
