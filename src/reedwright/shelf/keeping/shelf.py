"""The shelf as a value to work with: items added, read, changed, undone, linked.

Every method that changes something does so in one transaction: all of it is kept or nothing. Put
several changes into `with shelf.change():` to make one of them.

Public: `Shelf`.
"""

from __future__ import annotations

import json
import sqlite3
import uuid
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

from reedwright.shelf.keeping.attachments import Attachments
from reedwright.shelf.model import (
    ChangedMeanwhile,
    Form,
    Item,
    Kind,
    Link,
    NotOnShelf,
    Role,
    ShelfError,
    State,
)

_ITEM = (
    "SELECT item.id, item.uid, item.kind, item.name, item.removed, state.number, state.parent, "
    "state.at, state.said, state.form, state.text, state.attachment, state.about "
    "FROM item JOIN state ON state.item = item.id AND state.number = item.state "
)


class Shelf:
    """An open shelf. `db` is for the rooms of the shelf; others use the methods."""

    def __init__(self, db: sqlite3.Connection, folder: Path) -> None:
        self.db = db
        self.folder = folder
        self.attachments = Attachments(folder / "attachments")

    def close(self) -> None:
        self.db.close()

    def __enter__(self) -> Shelf:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    @contextmanager
    def change(self) -> Iterator[None]:
        """All changes inside are one: kept at the end, or none of them where an error ends it."""
        if self.db.in_transaction:
            yield
            return
        self.db.execute("BEGIN IMMEDIATE")
        try:
            yield
            self.db.execute("COMMIT")
        except BaseException:
            if self.db.in_transaction:
                self.db.execute("ROLLBACK")
            raise

    def add(
        self,
        kind: Kind,
        name: str,
        form: Form,
        text: str = "",
        attachment: bytes | None = None,
        said: str = "",
        about: Mapping[str, str | int] | None = None,
        uid: str | None = None,
    ) -> Item:
        """Put something on the shelf. `text` or `attachment` is its content."""
        kept = None if attachment is None else self.attachments.add(attachment)
        with self.change():
            cursor = self.db.execute(
                "INSERT INTO item (uid, kind, name, state) VALUES (?, ?, ?, 1)",
                (uid or uuid.uuid4().hex, kind, name),
            )
            item = int(cursor.lastrowid or 0)
            self._add_state(item, 1, 0, name, form, text, kept, attachment, said, dict(about or {}))
        return self.item(item)

    def item(self, item: int) -> Item:
        """The item in its present state. Raises `NotOnShelf`."""
        row = self.db.execute(_ITEM + "WHERE item.id = ?", (item,)).fetchone()
        if row is None:
            raise NotOnShelf(f"There is nothing with the number {item} on the shelf.")
        return _item(row)

    def items(self, kind: Kind | None = None, removed: bool = False) -> Iterator[Item]:
        """All items of a kind, in the order in which they came. `removed`: those taken off."""
        wanted = "" if kind is None else "AND item.kind = ? "
        values: list[object] = [int(removed)] + ([] if kind is None else [kind])
        for row in self.db.execute(
            _ITEM + "WHERE item.removed = ? " + wanted + "ORDER BY item.id", values
        ):
            yield _item(row)

    def revise(
        self,
        item: int,
        text: str = "",
        attachment: bytes | None = None,
        said: str = "",
        name: str | None = None,
        form: Form | None = None,
        about: Mapping[str, str | int] | None = None,
        made_from: int | None = None,
    ) -> Item:
        """Give an item a new state; the earlier ones stay.

        What is not said stays as it is. `made_from`: the number of the state that the change was
        made from; where the item has another one by now, `ChangedMeanwhile` is raised.
        """
        kept = None if attachment is None else self.attachments.add(attachment)
        with self.change():
            now = self.item(item)
            if made_from is not None and now.state.number != made_from:
                raise ChangedMeanwhile(
                    f"{now.name} was changed meanwhile ({now.state.said or 'no word on how'}). "
                    "Look at what it says now, and make your change again."
                )
            number = 1 + int(
                self.db.execute("SELECT max(number) FROM state WHERE item = ?", (item,)).fetchone()[
                    0
                ]
            )
            called = now.name if name is None else name
            self._add_state(
                item,
                number,
                now.state.number,
                called,
                form or now.state.form,
                text,
                kept,
                attachment,
                said,
                dict(now.state.about if about is None else about),
            )
            self.db.execute(
                "UPDATE item SET state = ?, name = ?, left_at = 0 WHERE id = ?",
                (number, called, item),
            )
        return self.item(item)

    def _add_state(
        self,
        item: int,
        number: int,
        parent: int,
        name: str,
        form: Form,
        text: str,
        kept: str | None,
        attachment: bytes | None,
        said: str,
        about: Mapping[str, str | int],
    ) -> None:
        if kept is not None:
            self.db.execute(
                "INSERT OR IGNORE INTO attachment (sha256, bytes) VALUES (?, ?)",
                (kept, len(attachment or b"")),
            )
        self.db.execute(
            "INSERT INTO state (item, number, parent, at, said, name, form, text, attachment, "
            "about) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                item,
                number,
                parent,
                datetime.now(UTC).isoformat(timespec="milliseconds"),
                said,
                name,
                form,
                text,
                kept,
                json.dumps(dict(about), ensure_ascii=False, sort_keys=True),
            ),
        )

    def states(self, item: int) -> tuple[State, ...]:
        """All states of an item, the first one first."""
        rows = self.db.execute(
            "SELECT number, parent, at, said, form, text, attachment, about FROM state "
            "WHERE item = ? ORDER BY number",
            (item,),
        )
        return tuple(_state(row) for row in rows)

    def undo(self, item: int) -> Item:
        """Back to what the present state was made from. Raises `ShelfError` at the first."""
        with self.change():
            now = self.item(item)
            if not now.state.parent:
                raise ShelfError(f"{now.name}: there is nothing to undo.")
            self.db.execute(
                "UPDATE item SET left_at = CASE WHEN left_at = 0 THEN state ELSE left_at END "
                "WHERE id = ?",
                (item,),
            )
            self._go_to(item, now.state.parent)
        return self.item(item)

    def redo(self, item: int) -> Item:
        """Forward again along the way that undoing came. Raises `ShelfError` at its end."""
        with self.change():
            now = self.item(item)
            row = self.db.execute("SELECT left_at FROM item WHERE id = ?", (item,)).fetchone()
            goal = int(row[0])
            parents = {state.number: state.parent for state in self.states(item)}
            while goal and parents[goal] != now.state.number:
                goal = parents[goal]
            if not goal:
                raise ShelfError(f"{now.name}: there is nothing to redo.")
            self._go_to(item, goal)
        return self.item(item)

    def _go_to(self, item: int, number: int) -> None:
        self.db.execute(
            "UPDATE item SET state = ?, name = (SELECT name FROM state WHERE item = ? AND "
            "number = ?) WHERE id = ?",
            (number, item, number, item),
        )

    def remove(self, item: int) -> None:
        """Take an item off the shelf. It is kept, and `put_back` brings it back."""
        self._set_removed(item, True)

    def put_back(self, item: int) -> Item:
        """Put an item back that was removed."""
        self._set_removed(item, False)
        return self.item(item)

    def _set_removed(self, item: int, removed: bool) -> None:
        self.item(item)
        with self.change():
            self.db.execute("UPDATE item SET removed = ? WHERE id = ?", (int(removed), item))

    def link(self, item: int, role: Role, to: Sequence[int]) -> None:
        """Say what an item belongs to in this role, in order; what was said before is replaced."""
        with self.change():
            self.db.execute("DELETE FROM link WHERE item = ? AND role = ?", (item, role))
            self.db.executemany(
                "INSERT INTO link (item, to_item, role, place) VALUES (?, ?, ?, ?)",
                [(item, other, role, place) for place, other in enumerate(to)],
            )

    def links(self, item: int, role: Role | None = None) -> tuple[Link, ...]:
        """What an item belongs to, in order."""
        rows = self.db.execute(
            "SELECT item, to_item, role, place FROM link WHERE item = ? ORDER BY role, place",
            (item,),
        )
        found = (Link(row[0], row[1], Role(row[2]), row[3]) for row in rows)
        return tuple(each for each in found if role is None or each.role is role)

    def linked_to(self, item: int, role: Role | None = None) -> tuple[Link, ...]:
        """What belongs to an item: the arrangements of a tune, the lists that it stands in."""
        rows = self.db.execute(
            "SELECT item, to_item, role, place FROM link WHERE to_item = ? ORDER BY item, place",
            (item,),
        )
        found = (Link(row[0], row[1], Role(row[2]), row[3]) for row in rows)
        return tuple(each for each in found if role is None or each.role is role)


def _item(row: sqlite3.Row) -> Item:
    return Item(
        row["id"],
        row["uid"],
        Kind(row["kind"]),
        row["name"],
        _state(row),
        bool(row["removed"]),
    )


def _state(row: sqlite3.Row) -> State:
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
