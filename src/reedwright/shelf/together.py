"""One line of undoing over two items that are changed together: a tune and its choices.

Each item has its own states. A state made here also says which state the other item had then
(`about["beside"]`), so the two make one line: what is undone is the later step of both, and what is
redone is the step that was undone last from here. A step taken after undoing begins a branch, and
redoing follows the newest branch. States made elsewhere, which say nothing, are put in order
by their time.

Public: `revise_together`, `to_undo`, `to_redo`, `earlier`, `BESIDE`.
"""

from __future__ import annotations

import time
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta

from reedwright.shelf.keeping.rows import STATE, state_of
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Item, State

BESIDE = "beside"
_TICK = timedelta(milliseconds=1)  # states know their time no finer
_LONGEST_WAIT = timedelta(milliseconds=20)  # a clock that was set back is not waited for


def revise_together(
    shelf: Shelf,
    item: Item,
    other: Item | None,
    text: str,
    said: str,
    name: str | None = None,
    form: Form | None = None,
    about: Mapping[str, str | int] | None = None,
) -> Item:
    """`Shelf.revise`, as a step of the line that the two items make. Call it inside
    `shelf.change()`, with the items as they are now."""
    _later_than(item.state, other.state if other else item.state)
    row = shelf.db.execute("SELECT max(number) FROM state WHERE item = ?", (item.id,)).fetchone()
    beside = f"{int(row[0]) + 1} {other.state.number if other else 0}"
    kept = dict(item.state.about if about is None else about)
    return shelf.revise(
        item.id, text, said=said, name=name, form=form, about={**kept, BESIDE: beside}
    )


def to_undo(first: Item, second: Item | None) -> Item | None:
    """The item whose present state is the last step; None where there is nothing to undo."""
    if second is None or not second.state.parent:
        return first if first.state.parent else None
    if not first.state.parent:
        return second
    if _beside(first.state) == second.state.number:
        return first
    if _beside(second.state) == first.state.number:
        return second
    return first if first.state.at >= second.state.at else second


def to_redo(shelf: Shelf, first: Item, second: Item | None) -> tuple[Item, State] | None:
    """The item to redo and the state that it then has; None where nothing was undone from here."""
    pairs = [(first, second)] if second is None else [(first, second), (second, first)]
    found = []
    for item, other in pairs:
        coming = _coming(shelf, item)
        if coming is not None and _follows(coming, item, other):
            found.append((item, coming))
    return max(found, key=lambda each: each[1].at, default=None)


def _follows(coming: State, item: Item, other: Item | None) -> bool:
    """Whether the step was taken while the other item was as it is now."""
    beside = _beside(coming)
    if beside is not None:
        # Before its first choice a tune had no arrangement; its first state says nothing.
        return (
            other is None
            or beside == other.state.number
            or (beside == 0 and not other.state.parent)
        )
    return other is None or not other.state.parent or coming.at >= other.state.at


def _beside(state: State) -> int | None:
    """The number of the other item's state when this one was made, where it is known.

    Facts of a state may be taken over into the next one by who knows nothing of this: hence the
    state's own number before it.
    """
    own, _, other = str(state.about.get(BESIDE, "")).partition(" ")
    return int(other) if own == str(state.number) and other.isdigit() else None


def _coming(shelf: Shelf, item: Item) -> State | None:
    """The state that redoing this item alone leads to."""
    row = shelf.db.execute(
        "WITH RECURSIVE back(number, parent) AS ("
        "SELECT state.number, state.parent FROM state JOIN item ON item.id = state.item "
        "WHERE item.id = ? AND state.number = item.left_at "
        "UNION ALL SELECT state.number, state.parent FROM state JOIN back "
        "ON state.item = ? AND state.number = back.parent WHERE back.parent != ?) "
        "SELECT number FROM back WHERE parent = ?",
        (item.id, item.id, item.state.number, item.state.number),
    ).fetchone()
    if row is None:
        return None
    found = shelf.db.execute(
        f"SELECT {STATE} FROM state WHERE item = ? AND number = ?", (item.id, row[0])
    ).fetchone()
    return state_of(found)


def _later_than(*states: State) -> None:
    """Wait until the clock is past these, so that no two steps have the same time."""
    latest = max(state.at for state in states)
    while latest - _LONGEST_WAIT < datetime.now(UTC) - _TICK < latest:
        time.sleep(_TICK.total_seconds() / 4)


def earlier(shelf: Shelf, item: Item, most: int) -> Iterator[State]:
    """The states before the present one, the way that undoing this item alone goes; as many as
    `most`."""
    number = item.state.parent
    for _ in range(most):
        if not number:
            return
        row = shelf.db.execute(
            f"SELECT {STATE} FROM state WHERE item = ? AND number = ?", (item.id, number)
        ).fetchone()
        if row is None:
            return
        state = state_of(row)
        yield state
        number = state.parent
