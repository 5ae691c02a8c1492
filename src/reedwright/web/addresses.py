"""Where an item of the shelf has its page.

Public: `address_of`.
"""

from __future__ import annotations

from reedwright.shelf.belongings.lists import is_book
from reedwright.shelf.model import Item, Kind

_PAGES = {Kind.TUNE: "/shelf", Kind.LIST: "/sets", Kind.HARP: "/bench/harps"}


def address_of(item: Item) -> str:
    """Empty for what has no page of its own, as takes and lessons have none."""
    where = "/books" if is_book(item) else _PAGES.get(item.kind, "")
    return f"{where}/{item.id}" if where else ""
