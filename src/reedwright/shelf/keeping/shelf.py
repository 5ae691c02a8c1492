"""The shelf as a value to work with: items added, read, changed, undone, linked.

Every method that changes something does so in one transaction: all of it is kept or nothing. Put
several changes into `with shelf.change():` to make one of them.

Undoing goes from a state to the one that it was made from, and redoing forward again along the way
that undoing came. A change made after undoing is a branch of its own; `go_to` reaches every state
of every branch. A state has the name, the content and the links that the item had in it.

Public: `Shelf`.
"""

from __future__ import annotations

import json
import uuid
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType

from reedwright.shelf.keeping.attachments import Attachments
from reedwright.shelf.keeping.connection import Connection
from reedwright.shelf.keeping.rows import ITEM, STATE, item_of, link_of, state_of
from reedwright.shelf.keeping.troubles import read_only as only_readable
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

_ADD_STATE = (
    "INSERT INTO state (item, number, parent, at, said, name, form, text, attachment, about, links)"
    " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
_LINKS_NOW = (
    "SELECT json_group_array(json_array(role, to_item)) FROM "
    "(SELECT role, to_item FROM link WHERE item = ? ORDER BY role, place)"
)
_BEYOND = 2**63  # SQLite's whole numbers end before it
_CALLED = {Kind.PROFILE: "player", Kind.LIST: "set or list"}  # where the kind's word is no user's


class Shelf:
    """An open shelf, for the thread that opened it. `db` is for the rooms of the shelf; others use
    the methods. All of them raise the errors of `ShelfError` and no others of SQLite's."""

    def __init__(self, db: Connection, folder: Path, read_only: bool = False) -> None:
        self.db = db
        self.folder = folder
        self.read_only = read_only
        self.attachments = Attachments(folder / "attachments")
        self._changing = False

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

    # -- transactions -----------------------------------------------------------------------

    @contextmanager
    def change(self) -> Iterator[None]:
        """All changes inside are one: kept at the end, or none of them where an error ends it.

        One inside another is undone alone where its error is dealt with there. Raises
        `ShelfReadOnly`, `ShelfBusy`, `ShelfFull`.
        """
        self._check_writable()
        if self._changing:
            yield from self._changed("SAVEPOINT inner", "RELEASE inner", "ROLLBACK TO inner")
            return
        self.db.execute("BEGIN IMMEDIATE")
        self._changing = True
        try:
            yield
            self._still_changing()
            self.db.execute("COMMIT")
        finally:
            self._changing = False
            if self.db.in_transaction:
                self.db.execute("ROLLBACK")

    def _changed(self, begin: str, end: str, back: str) -> Iterator[None]:
        self._still_changing()
        self.db.execute(begin)
        try:
            yield
        except BaseException:
            if self.db.in_transaction:  # where the disk was full, all of it is undone already
                self.db.execute(back)
                self.db.execute(end)
            raise
        self._still_changing()
        self.db.execute(end)

    def _still_changing(self) -> None:
        if not self.db.in_transaction:
            raise ShelfError(
                f"{self.db.place}: an earlier step failed, and all steps with it were undone. "
                "Do it again."
            )

    def _check_writable(self) -> None:
        if self.read_only:
            raise only_readable(self.db.place)
        if self.db.in_transaction and not self._changing:
            raise ShelfError(f"{self.db.place}: can't be changed while it is read as it was.")

    @contextmanager
    def reading(self) -> Iterator[None]:
        """All that is read inside is of one moment, whatever others write meanwhile."""
        if self.db.in_transaction:
            yield
            return
        self.db.execute("BEGIN")
        try:
            self.db.execute("SELECT 1 FROM item LIMIT 1").fetchone()  # the moment is this one
            yield
        finally:
            if self.db.in_transaction:
                self.db.execute("ROLLBACK")

    # -- items ------------------------------------------------------------------------------

    def add(
        self,
        kind: Kind,
        name: str,
        form: Form,
        text: str = "",
        attachment: bytes | Path | None = None,
        said: str = "",
        about: Mapping[str, str | int] | None = None,
        uid: str | None = None,
    ) -> Item:
        """Put something on the shelf. `text` or `attachment` (bytes, or the file that they are in)
        is its content. Raises `NotWritten` as well, where there is no room for an attachment."""
        self._check_writable()
        kept = None if attachment is None else self.attachments.add_sized(attachment)
        with self.change():
            cursor = self.db.execute(
                "INSERT INTO item (uid, kind, name, state) VALUES (?, ?, ?, 1)",
                (uid or uuid.uuid4().hex, kind, name),
            )
            item = int(cursor.lastrowid or 0)
            state = State(1, 0, datetime.now(UTC), said, form, text, "", dict(about or {}))
            self._add_state(item, name, state, self._attached(attachment, kept), "[]")
        return self.item(item)

    def item(self, item: int, kind: Kind | None = None) -> Item:
        """The item in its present state, also one that was taken off. Raises `NotOnShelf` where
        nothing has that number, or nothing of that kind."""
        found = None
        if 0 < item < _BEYOND:
            row = self.db.execute(ITEM + "WHERE item.id = ?", (item,)).fetchone()
            found = None if row is None else item_of(row)
        if found is None or kind not in (None, found.kind):
            wanted = f"no {_CALLED.get(kind, kind.value)}" if kind else "nothing"
            raise NotOnShelf(f"There is {wanted} with the number {item} on the shelf.")
        return found

    def items(self, kind: Kind | None = None, removed: bool = False) -> Iterator[Item]:
        """All items of a kind, in the order in which they came. `removed`: those taken off."""
        wanted = "" if kind is None else "AND item.kind = ? "
        values: list[object] = [int(removed)] + ([] if kind is None else [kind])
        for row in self.db.execute(
            ITEM + "WHERE item.removed = ? " + wanted + "ORDER BY item.id", values
        ):
            yield item_of(row)

    def names(self, kind: Kind, removed: bool = False) -> dict[int, str]:
        """What items of a kind are called, by their numbers; quick, as no texts are read.
        `removed`: those taken off."""
        rows = self.db.execute(
            "SELECT id, name FROM item WHERE kind = ? AND removed = ?", (kind, int(removed))
        )
        return {int(row[0]): str(row[1]) for row in rows}

    def counts(self) -> dict[Kind, int]:
        """How many items of each kind there are, without those that were taken off; kinds that
        there is nothing of are left out."""
        rows = self.db.execute("SELECT kind, count(*) FROM item WHERE removed = 0 GROUP BY kind")
        found = {Kind(row[0]): int(row[1]) for row in rows}
        return {kind: found[kind] for kind in Kind if kind in found}

    # -- states -----------------------------------------------------------------------------

    def revise(
        self,
        item: int,
        text: str = "",
        attachment: bytes | Path | None = None,
        said: str = "",
        name: str | None = None,
        form: Form | None = None,
        about: Mapping[str, str | int] | None = None,
        made_from: int | None = None,
    ) -> Item:
        """Give an item a new state; the earlier ones stay.

        What is not said stays as it is: an attachment, where neither text, attachment nor form is
        given. `made_from`: the number of the state that the change was made from; where the item
        has another one by now, `ChangedMeanwhile` is raised.
        """
        self._check_writable()
        kept = None if attachment is None else self.attachments.add_sized(attachment)
        with self.change():
            now = self.item(item)
            if made_from is not None and now.state.number != made_from:
                raise ChangedMeanwhile(
                    f"{now.name} was changed meanwhile ({now.state.said or 'no word on how'}). "
                    "Look at what it says now, and make your change again."
                )
            row = self.db.execute("SELECT max(number) FROM state WHERE item = ?", (item,))
            number = 1 + int(row.fetchone()[0])
            attached = self._attached(attachment, kept)
            if not text and attachment is None and form is None:
                attached = now.state.attachment
            state = State(
                number,
                now.state.number,
                datetime.now(UTC),
                said,
                form or now.state.form,
                text,
                "",
                dict(now.state.about if about is None else about),
            )
            called = now.name if name is None else name
            links = self.db.execute(_LINKS_NOW, (item,)).fetchone()[0]
            self._add_state(item, called, state, attached, links)
            self.db.execute(
                "UPDATE item SET state = ?, name = ?, left_at = 0 WHERE id = ?",
                (number, called, item),
            )
        return self.item(item)

    def _attached(self, content: bytes | Path | None, kept: tuple[str, int] | None) -> str:
        """Name an attachment in the file; from now on nobody clears it out."""
        if content is None or kept is None:
            return ""
        sha256, size = kept
        if not self.attachments.path(sha256).exists():  # cleared out since, before we had the file
            sha256, size = self.attachments.add_sized(content)
        self.db.execute(
            "INSERT OR IGNORE INTO attachment (sha256, bytes) VALUES (?, ?)", (sha256, size)
        )
        return sha256

    def _add_state(self, item: int, name: str, state: State, attached: str, links: str) -> None:
        self.db.execute(
            _ADD_STATE,
            (
                item,
                state.number,
                state.parent,
                state.at.isoformat(timespec="milliseconds"),
                state.said,
                name,
                state.form,
                state.text,
                attached or None,
                json.dumps(dict(state.about), ensure_ascii=False, sort_keys=True),
                links,
            ),
        )

    def states(self, item: int) -> tuple[State, ...]:
        """All states of an item, the first one first."""
        rows = self.db.execute(
            f"SELECT {STATE} FROM state WHERE item = ? ORDER BY number",
            (item,),
        )
        return tuple(state_of(row) for row in rows)

    def undo(self, item: int) -> Item:
        """Back to what the present state was made from; of an item that was taken off the shelf,
        back onto it. Raises `ShelfError` where there is nothing to undo."""
        with self.change():
            now = self.item(item)
            if now.removed:
                return self.put_back(item)
            if not now.state.parent:
                raise ShelfError(f"{now.name}: there is nothing to undo.")
            self._go_to(item, now.state.parent, self._tip(item))
        return self.item(item)

    def redo(self, item: int) -> Item:
        """Forward again along the way that undoing came. Raises `ShelfError` at its end."""
        with self.change():
            now = self.item(item)
            parents = self._parents(item)
            goal = tip = self._tip(item)
            while goal and parents.get(goal) != now.state.number:
                goal = parents.get(goal, 0)
            if not goal:
                raise ShelfError(f"{now.name}: there is nothing to redo.")
            self._go_to(item, goal, tip)
        return self.item(item)

    def can_redo(self, item: int) -> bool:
        """Whether undoing or going back has left something to go forward to."""
        return self._tip(item) != self.item(item).state.number

    def go_to(self, item: int, number: int) -> Item:
        """To any state that the item has had, of any branch. Undoing goes on from there, and
        redoing comes back where the state lies on the way here. Raises `NotOnShelf`."""
        with self.change():
            now = self.item(item)
            parents = self._parents(item)
            if number not in parents:
                raise NotOnShelf(
                    f"{now.name} has no state {number}; its states are 1 to {max(parents)}."
                )
            tip = on_the_way = self._tip(item)
            while on_the_way and on_the_way != number:
                on_the_way = parents.get(on_the_way, 0)
            self._go_to(item, number, tip if on_the_way else number)
        return self.item(item)

    def _tip(self, item: int) -> int:
        """The state that redoing leads to in the end."""
        row = self.db.execute("SELECT left_at, state FROM item WHERE id = ?", (item,)).fetchone()
        return int(row[0] or row[1])

    def _parents(self, item: int) -> dict[int, int]:
        rows = self.db.execute("SELECT number, parent FROM state WHERE item = ?", (item,))
        return {int(row[0]): int(row[1]) for row in rows}

    def _go_to(self, item: int, number: int, tip: int) -> None:
        self.db.execute(
            "UPDATE item SET state = ?, left_at = ?, "
            "name = (SELECT name FROM state WHERE item = ? AND number = ?) WHERE id = ?",
            (number, 0 if tip == number else tip, item, number, item),
        )
        self.links_of_present_state(item)

    def remove(self, item: int) -> None:
        """Take an item off the shelf. It is kept, and `put_back` (or undoing) brings it back."""
        self._set_removed(item, True)

    def put_back(self, item: int) -> Item:
        """Put an item back that was removed."""
        self._set_removed(item, False)
        return self.item(item)

    def _set_removed(self, item: int, removed: bool) -> None:
        with self.change():
            self.item(item)
            self.db.execute("UPDATE item SET removed = ? WHERE id = ?", (int(removed), item))

    # -- links ------------------------------------------------------------------------------

    def link(self, item: int, role: Role, to: Sequence[int]) -> None:
        """Say what an item belongs to in this role, in order; what was said before is replaced.

        That goes for the item's present state: going back to an earlier one goes back to what it
        belonged to then. Raises `NotOnShelf`.
        """
        with self.change():
            self.item(item)
            for other in to:
                self.item(other)
            self.db.execute("DELETE FROM link WHERE item = ? AND role = ?", (item, role))
            self._insert_links(item, [(role, other) for other in to])
            self.db.execute(
                f"UPDATE state SET links = ({_LINKS_NOW}) WHERE item = ? AND number = "
                "(SELECT state FROM item WHERE id = ?)",
                (item, item, item),
            )

    def links_of_present_state(self, item: int) -> None:
        """The item belongs to what its present state says; what is gone for good is left out."""
        row = self.db.execute(
            "SELECT links FROM item JOIN state ON state.item = id AND number = item.state "
            "WHERE id = ?",
            (item,),
        ).fetchone()
        self.db.execute("DELETE FROM link WHERE item = ?", (item,))
        there = [
            (role, other)
            for role, other in json.loads(row[0])
            if self.db.execute("SELECT 1 FROM item WHERE id = ?", (other,)).fetchone()
        ]
        self._insert_links(item, there)

    def _insert_links(self, item: int, links: Sequence[tuple[str, int]]) -> None:
        places: dict[str, int] = {}
        for role, other in links:
            place = places[role] = places.get(role, -1) + 1
            self.db.execute(
                "INSERT INTO link (item, to_item, role, place) VALUES (?, ?, ?, ?)",
                (item, other, role, place),
            )

    def links(self, item: int, role: Role | None = None) -> tuple[Link, ...]:
        """What an item belongs to, in order."""
        rows = self.db.execute(
            "SELECT item, to_item, role, place FROM link WHERE item = ? ORDER BY role, place",
            (item,),
        )
        found = (link_of(row) for row in rows)
        return tuple(each for each in found if role is None or each.role is role)

    def linked_to(self, item: int, role: Role | None = None) -> tuple[Link, ...]:
        """What belongs to an item: the arrangements of a tune, the lists that it stands in."""
        rows = self.db.execute(
            "SELECT item, to_item, role, place FROM link WHERE to_item = ? ORDER BY item, place",
            (item,),
        )
        found = (link_of(row) for row in rows)
        return tuple(each for each in found if role is None or each.role is role)
