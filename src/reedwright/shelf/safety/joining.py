"""Items of an export put on the shelf, or joined with what the shelf has of them.

Public: `Joining`, `StateRead`.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.safety.index import ItemLine, StateLine

_INSERT = (
    "INSERT INTO state (item, number, parent, at, said, name, form, text, attachment, about) "
    "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
)
_SAID = "parent, at, said, name, form, text, attachment, about"

_Said = tuple[int, str, str, str, str, str, str | None, str]
"""All that a state says, as the columns of `_SAID`; two that say the same are the same state."""


@dataclass(frozen=True, slots=True)
class StateRead:
    """A state of an export with its text, and the whole file that was attached to it."""

    line: StateLine
    text: str = ""
    attachment: Path | None = None

    def said(self, parent: int) -> _Said:
        line = self.line
        return (
            parent,
            line.at,
            line.said,
            line.name,
            line.form.value,
            self.text,
            None if line.attachment is None else line.attachment.sha256,
            json.dumps(line.about, ensure_ascii=False, sort_keys=True),
        )


@dataclass(slots=True)
class Joining:
    """Takes items one by one, within one change of the shelf; `link` ends it."""

    shelf: Shelf
    added: int = 0
    same: int = 0
    forward: list[str] = field(default_factory=list)
    both: list[str] = field(default_factory=list)
    _links: list[tuple[int, int, StateLine]] = field(default_factory=list)
    _moved: list[int] = field(default_factory=list)

    def take(self, line: ItemLine, states: Sequence[StateRead]) -> None:
        """Put an item on the shelf, or join it. `states`: those of the line that are whole, at
        least one. What was made from another one goes back to the nearest whole one before it."""
        row = self.shelf.db.execute(
            "SELECT id, state FROM item WHERE uid = ?", (line.uid,)
        ).fetchone()
        standing = _standing_for(line, {state.line.number for state in states})
        present = standing[line.present] or states[-1].line.number
        if row is None:
            self._add(line, states, standing, present)
        else:
            self._join(int(row[0]), int(row[1]), states, standing, present)

    def _add(
        self,
        line: ItemLine,
        states: Sequence[StateRead],
        standing: Mapping[int, int],
        present: int,
    ) -> None:
        name = next(state.line.name for state in states if state.line.number == present)
        left_at = line.left_at if standing.get(line.left_at) == line.left_at else 0
        cursor = self.shelf.db.execute(
            "INSERT INTO item (uid, kind, name, state, left_at, removed) VALUES (?, ?, ?, ?, ?, ?)",
            (line.uid, line.kind, name, present, left_at, int(line.removed)),
        )
        item = int(cursor.lastrowid or 0)
        for state in states:
            number = state.line.number
            self._insert(item, number, standing.get(state.line.parent, 0), state)
        self._moved.append(item)
        self.added += 1

    def _insert(self, item: int, number: int, parent: int, state: StateRead) -> None:
        if state.attachment is not None and state.line.attachment is not None:
            sha256 = state.line.attachment.sha256
            self.shelf.attachments.take(state.attachment, sha256)
            self.shelf.db.execute(
                "INSERT OR IGNORE INTO attachment (sha256, bytes) VALUES (?, ?)",
                (sha256, state.attachment.stat().st_size),
            )
        self.shelf.db.execute(_INSERT, (item, number, *state.said(parent)))
        if state.line.links:
            self._links.append((item, number, state.line))

    def _join(
        self,
        item: int,
        ours: int,
        states: Sequence[StateRead],
        standing: Mapping[int, int],
        present: int,
    ) -> None:
        there: dict[_Said, int] = {}
        parents: dict[int, int] = {}
        for row in self.shelf.db.execute(
            f"SELECT number, {_SAID} FROM state WHERE item = ? ORDER BY number", (item,)
        ):
            there.setdefault(tuple(row)[1:], row[0])
            parents[row[0]] = row["parent"]
        number_of = {0: 0}  # the number that a state of the export has on the shelf
        new = set()
        for state in states:
            parent = number_of[standing.get(state.line.parent, 0)]
            number = there.get(state.said(parent))
            if number is None:
                number = max(parents) + 1
                self._insert(item, number, parent, state)
                parents[number] = parent
                new.add(number)
            number_of[state.line.number] = number
        theirs = number_of[present]
        name = next(state.line.name for state in states if state.line.number == present)
        if theirs not in new:
            self.same += not new
        elif _goes_back_to(theirs, ours, parents):
            self.shelf.db.execute(
                "UPDATE item SET state = ?, name = ?, left_at = 0 WHERE id = ?",
                (theirs, name, item),
            )
            self._moved.append(item)
            self.forward.append(name)
            return
        if new:
            self.both.append(
                f"{name} (item {item}) has changed on the shelf and in the export. It stays as it "
                f"is; state {theirs if theirs in new else max(new)} is what the export says."
            )

    def link(self) -> list[str]:
        """Say what the items belonged to, now that all are there; returns what is missing."""
        ids: dict[str, int] = {
            row[0]: int(row[1]) for row in self.shelf.db.execute("SELECT uid, id FROM item")
        }
        missing = []
        for item, number, line in self._links:
            links = [(role, ids[uid]) for role, uid in line.links if uid in ids]
            self.shelf.db.execute(
                "UPDATE state SET links = ? WHERE item = ? AND number = ?",
                (json.dumps(links), item, number),
            )
            if len(links) < len(line.links):
                missing.append(
                    f"'{line.name}' (item {item}, state {number}) belonged to something that is "
                    "not here."
                )
        for item in self._moved:
            self.shelf.links_of_present_state(item)
        return missing


def _standing_for(line: ItemLine, whole: set[int]) -> dict[int, int]:
    """For each state of the line itself where it is whole, else the nearest whole one that it goes
    back to; 0 where there is none."""
    parents = {state.number: state.parent for state in line.states}
    found = {0: 0}
    for number in sorted(parents):
        found[number] = number if number in whole else found.get(parents[number], 0)
    return found


def _goes_back_to(number: int, earlier: int, parents: Mapping[int, int]) -> bool:
    while number and number != earlier:
        number = parents[number]
    return number == earlier
