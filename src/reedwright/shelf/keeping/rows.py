"""Rows of the shelf's file as values.

Public: `ITEM`, `STATE`, `item_of`, `state_of`, `link_of`.
"""

from __future__ import annotations

import json
import sqlite3
from datetime import datetime

from reedwright.shelf.model import Form, Item, Kind, Link, Role, State

STATE = (
    "state.number, state.parent, state.at, state.said, state.form, state.text, state.attachment, "
    "state.about"
)
ITEM = (
    f"SELECT item.id, item.uid, item.kind, item.name, item.removed, {STATE} "
    "FROM item JOIN state ON state.item = item.id AND state.number = item.state "
)


def item_of(row: sqlite3.Row) -> Item:
    return Item(
        row["id"],
        row["uid"],
        Kind(row["kind"]),
        row["name"],
        state_of(row),
        bool(row["removed"]),
    )


def state_of(row: sqlite3.Row) -> State:
    return State(
        row["number"],
        row["parent"],
        datetime.fromisoformat(row["at"]),
        row["said"],
        Form(row["form"]),
        row["text"],
        row["attachment"] or "",
        json.loads(row["about"]),
    )


def link_of(row: sqlite3.Row) -> Link:
    return Link(row["item"], row["to_item"], Role(row["role"]), row["place"])
