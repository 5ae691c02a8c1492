"""Processes that write to a shelf until they are killed, and tell of what they committed.

    python shelf_crash_writers.py edit SHELF DIARY SEED NAME
    python shelf_crash_writers.py import SHELF DIARY SEED PLACE
    python shelf_crash_writers.py copy SHELF DIARY SEED FOLDER

A diary is a file of lines of JSON, each handed to the system in one write, so that it outlives the
process. `begin` and `end` stand around every transaction; `try` is written before a change and
`done`, with what must be found afterwards, when its COMMIT has come back.
"""

from __future__ import annotations

import hashlib
import json
import os
import random
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Kind, Role

TOGETHER = 3  # items that are added in one change


class Diary:
    def __init__(self, path: Path) -> None:
        self.handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND)

    def write(self, **said: object) -> None:
        os.write(self.handle, (json.dumps(said) + "\n").encode())


def telling_of_transactions(diary: Diary) -> None:
    """From now on the diary says where transactions begin and end."""
    plain = Shelf.change

    @contextmanager
    def change(self: Shelf) -> Iterator[None]:
        outermost = not self.db.in_transaction
        with plain(self):
            if outermost:
                diary.write(what="begin")
            yield
        if outermost:
            diary.write(what="end")

    Shelf.change = change  # type: ignore[method-assign]


def sha256(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def edit(place: Path, diary: Diary, seed: int, name: str) -> None:
    """All sorts of changes, to tunes of this writer's own and to those that all share."""
    rng = random.Random(seed)
    shelf = open_shelf(place, busy=60)
    shared = [item.id for item in shelf.items(Kind.TUNE) if item.name.startswith("shared")]
    own = [item.id for item in shelf.items() if item.name.startswith(f"{name} own")]
    own += [item.id for item in shelf.items(removed=True) if item.name.startswith(f"{name} own")]
    diary.write(what="ready")
    step = 0
    while True:
        step += 1
        mark = f"{name} {seed} {step}"
        text = f"X:1\nT:{mark}\nK:G\n" + "GABc dedB|" * rng.randint(1, 400)
        what = rng.choices(
            ["own", "together", "take", "shared", "revise", "undo", "redo", "remove", "list"],
            [1, 2, 2, 4, 6, 3, 2, 2, 2],
        )[0]
        if what in ("revise", "undo", "redo", "remove") and not own:
            what = "own"
        if what == "own":
            diary.write(what="try", step=step)
            item = shelf.add(Kind.TUNE, f"{name} own {mark}", Form.ABC, text)
            own.append(item.id)
            diary.write(what="done", step=step, item=item.id, state=1, sha256=sha256(text))
        elif what == "together":
            diary.write(what="try", step=step)
            with shelf.change():
                for nth in range(TOGETHER):
                    item = shelf.add(Kind.LESSON, f"together {mark}", Form.TEXT, f"{text}{nth}")
            diary.write(what="done", step=step, together=f"together {mark}")
        elif what == "take":
            content = rng.randbytes(rng.randint(1, 300_000))
            diary.write(what="try", step=step)
            item = shelf.add(Kind.TAKE, f"take {mark}", Form.FILE, attachment=content)
            kept = hashlib.sha256(content).hexdigest()
            diary.write(what="done", step=step, item=item.id, state=1, attachment=kept)
        elif what == "shared":
            diary.write(what="try", step=step)
            item = shelf.revise(rng.choice(shared), text, said=mark)
            with_number = shelf.db.execute(
                "SELECT number FROM state WHERE item = ? AND said = ?", (item.id, mark)
            ).fetchone()[0]
            diary.write(
                what="done", step=step, item=item.id, state=with_number, sha256=sha256(text)
            )
        elif what == "list":
            tunes = rng.sample(shared, k=rng.randint(1, len(shared)))
            diary.write(what="try", step=step)
            with shelf.change():
                item = shelf.add(Kind.LIST, f"list {mark}", Form.JSON, json.dumps(tunes))
                shelf.link(item.id, Role.ON, tunes)
            diary.write(what="done", step=step, list=item.id, tunes=tunes)
        else:
            _of_own(shelf, diary, step, what, rng.choice(own), text)


def _of_own(shelf: Shelf, diary: Diary, step: int, what: str, item: int, text: str) -> None:
    """A change whose outcome nobody else changes: which state is present, and whether removed."""
    states = {state.number: state for state in shelf.states(item)}
    now = shelf.item(item)
    diary.write(what="try", step=step, item=item)
    if what == "revise":
        now = shelf.revise(item, text, said=str(step))
        diary.write(what="done", step=step, item=item, state=now.state.number, sha256=sha256(text))
    elif what == "remove":
        if now.removed:
            shelf.put_back(item)
        else:
            shelf.remove(item)
        now = shelf.item(item)
    elif what == "undo" and (now.state.parent or now.removed):
        now = shelf.undo(item)
    elif what == "redo" and len(states) > now.state.number:
        now = shelf.go_to(item, max(states))
    diary.write(what="done", step=step, present=now.state.number, of=item, removed=now.removed)


def take_in(place: Path, diary: Diary, seed: int, tunes: str) -> None:
    """The real import. What it tells when a transaction has ended is written down."""
    from reedwright.shelf.filling.importing import ImportOptions, import_tunes

    shelf = open_shelf(place, busy=60)
    before = shelf.counts().get(Kind.TUNE, 0)
    diary.write(what="ready")

    def progress(share: float, doing: str) -> None:
        if doing.endswith("taken in"):
            added = int(doing.split()[0].replace(",", ""))
            diary.write(what="done", tunes=before + added)

    options = ImportOptions(settings=False, grade=False, workers=1 + seed % 2)
    import_tunes(shelf, [Path(tunes)], options, progress)
    diary.write(what="finished", tunes=shelf.counts().get(Kind.TUNE, 0))


def copy(place: Path, diary: Diary, seed: int, folder: str) -> None:
    """Backups and exports, one after the other."""
    from reedwright.shelf.safety.backing_up import back_up
    from reedwright.shelf.safety.exporting import export

    shelf = open_shelf(place, busy=60)
    diary.write(what="ready")
    step = 0
    while True:
        step += 1
        for what, do in (("backup", back_up), ("export", export)):
            to = Path(folder) / f"{what}-{seed}-{step}"
            diary.write(what="try", step=step)
            diary.write(what="begin")
            report = do(shelf, to)
            diary.write(what="end")
            diary.write(what="done", step=step, **{what: str(to)}, items=report.items)


def main() -> None:
    what, place, diary, seed, more = sys.argv[1:]
    written = Diary(Path(diary))
    if what != "copy":
        telling_of_transactions(written)
    {"edit": edit, "import": take_in, "copy": copy}[what](Path(place), written, int(seed), more)


if __name__ == "__main__":
    main()
