"""Harps on the shelf with what was measured and done: entries added and taken back.

The bench's own functions add an entry to a file; here that file is a passing one, and what it then
says becomes the harp's next state on the shelf. So each entry can be undone, and a page that shows
an older state is told so instead of writing over another's.

Public: `with_entry`.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory

from reedwright.shelf.keeping.shelf import Shelf
from reedwright.web.ownharps import OwnHarp, own_harp
from reedwright.workshop.history.model import History
from reedwright.workshop.history.reading import read_history


def with_entry(
    shelf: Shelf,
    item: int,
    add: Callable[[History], History],
    said: str,
    made_from: int | None = None,
) -> OwnHarp:
    """The harp with an entry more, as its next state.

    `add` is one of the bench's functions that add an entry to a history's file. Raises what it
    does, and `ChangedMeanwhile` where the harp is no longer in the state `made_from`.
    """
    with shelf.change():
        now = shelf.item(item)
        with TemporaryDirectory(prefix="reedwright-bench-") as folder:
            path = Path(folder) / "harp.toml"
            path.write_text(now.state.text, encoding="utf-8", newline="")
            add(read_history(path, now.state.text))
            text = path.read_bytes().decode("utf-8")
        shelf.revise(item, text, said=said, made_from=made_from)
    return own_harp(shelf, item)
