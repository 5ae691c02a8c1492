"""The shelf is killed at random instants, and looked at: is all there that was told, and whole?

    python benchmarks/shelf_crashes.py --kills 300 --seed 1

A third of the kills hit the real import of tunes that music21 ships, a third two writers who edit
and undo at once, a third a writer together with backups and exports. Whole process groups are
killed with SIGKILL, at a random instant after all of them are ready. The same shelf goes on through
kill after kill; each time it is opened, checked whole and written to, and compared with the
diaries of what was committed (`shelf_crash_writers`).

This shows what a killed process leaves. It cannot show what a power cut leaves: that rests on
SQLite's `synchronous = FULL` and on fsync of attachments.
"""

from __future__ import annotations

import argparse
import hashlib
import importlib.util
import json
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf
from reedwright.shelf.model import Form, Kind, Role
from reedwright.shelf.safety.bringing_back import bring_back
from reedwright.shelf.safety.checking import check
from shelf_crash_writers import TOGETHER

WRITERS = Path(__file__).parent / "shelf_crash_writers.py"
SHARED = 8  # tunes that all writers change
LONGEST = {"import": 5.0, "edit": 0.7, "copy": 1.2}  # seconds from being ready to the kill, at most
ANEW_AFTER = 25  # kills of one sort, after which a new shelf is begun
START = 60.0  # seconds that a writer may take to be ready
Told = list[dict[str, Any]]


@dataclass
class Tally:
    """How many kills hit what, and what was wrong afterwards."""

    kills: Counter[str] = field(default_factory=Counter)
    working: Counter[str] = field(default_factory=Counter)
    in_transaction: Counter[str] = field(default_factory=Counter)
    log_left: Counter[str] = field(default_factory=Counter)
    told: Counter[str] = field(default_factory=Counter)
    half_copies: int = 0
    wrong: list[str] = field(default_factory=list)

    def text(self) -> str:
        lines = [
            f"{sum(self.kills.values())} kills; "
            f"{sum(self.working.values())} while every writer was still at work"
        ]
        lines += [
            f"  {sort}: {self.kills[sort]} kills, {self.in_transaction[sort]} inside a transaction "
            f"or copy, {self.log_left[sort]} with a log left behind, {self.told[sort]} changes told"
            for sort in self.kills
        ]
        lines.append(f"copies that were cut off, none of them under its name: {self.half_copies}")
        lines.append(f"wrong: {len(self.wrong)}")
        return "\n".join([*lines, *self.wrong[:20]])


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    spec = importlib.util.find_spec("music21")
    assert spec is not None and spec.origin is not None
    tunes = Path(spec.origin).parent / "corpus" / "oneills1850"
    with tempfile.TemporaryDirectory() as folder:
        print(killed(args.kills, args.seed, tunes, Path(folder)).text())


def killed(kills: int, seed: int, tunes: Path, folder: Path, hurry: float = 1.0) -> Tally:
    """Kill so many times, each sort for a third, and look each time. `hurry`: the share of the
    usual time after which they are killed."""
    rng = random.Random(seed)
    tally = Tally()
    for sort in ("import", "edit", "copy"):
        mine = len(range(("import", "edit", "copy").index(sort), kills, 3))
        for nth in range(mine):
            place = folder / f"{sort}-{nth // ANEW_AFTER}"
            _kill_once(sort, place, rng, tunes, tally, LONGEST[sort] * hurry)
            if nth % ANEW_AFTER == ANEW_AFTER - 1:
                _clear(folder, sort)
    return tally


def _clear(folder: Path, sort: str) -> None:
    for path in folder.glob(f"{sort}-*"):
        shutil.rmtree(path)


def _begun(place: Path) -> None:
    """A shelf with some tunes that all writers share, where there is none yet."""
    with open_shelf(place / "shelf") as shelf:
        if not shelf.counts():
            for nth in range(SHARED):
                shelf.add(Kind.TUNE, f"shared {nth}", Form.ABC, f"X:{nth}\nT:shared {nth}\nK:G\nG|")


def _kill_once(
    sort: str, place: Path, rng: random.Random, tunes: Path, tally: Tally, longest: float
) -> None:
    place.mkdir(parents=True, exist_ok=True)
    (place / "copies").mkdir(exist_ok=True)
    if sort != "import":
        _begun(place)
    seed = rng.randrange(10**9)
    tasks = {
        "import": [("import", str(tunes))],
        "edit": [("edit", "one"), ("edit", "two")],
        "copy": [("edit", "one"), ("copy", str(place / "copies"))],
    }[sort]
    diaries = [place / f"diary-{seed}-{nth}" for nth in range(len(tasks))]
    writers = [
        subprocess.Popen(
            [sys.executable, WRITERS, what, place / "shelf", diary, str(seed + nth), more],
            start_new_session=True,
        )
        for nth, ((what, more), diary) in enumerate(zip(tasks, diaries, strict=True))
    ]
    try:
        _wait_until_ready(diaries, writers)
        time.sleep(rng.uniform(0.0, longest))
        working = all(writer.poll() is None for writer in writers)
    finally:
        for writer in writers:
            if writer.poll() is None:
                os.killpg(writer.pid, signal.SIGKILL)
        for writer in writers:
            writer.wait()
    tally.kills[sort] += 1
    tally.working[sort] += working
    log = place / "shelf" / "shelf.sqlite-wal"
    tally.log_left[sort] += log.exists() and log.stat().st_size > 0
    told = [_read(diary) for diary in diaries]
    tally.in_transaction[sort] += any(_inside(each) for each in told)
    tally.told[sort] += sum(line["what"] == "done" for each in told for line in each)
    if sort == "import" and any(line["what"] == "finished" for line in told[0]):
        tally.wrong += _whole(place, told, tally)
        shutil.rmtree(place)  # all tunes are in: the next import begins anew
        return
    tally.wrong += [
        f"{sort}, kill {tally.kills[sort]}: {each}" for each in _whole(place, told, tally)
    ]
    for diary in diaries:
        diary.unlink()


def _wait_until_ready(diaries: list[Path], writers: list[subprocess.Popen[bytes]]) -> None:
    began = time.monotonic()
    while not all(diary.exists() and b"ready" in diary.read_bytes() for diary in diaries):
        dead = [writer.returncode for writer in writers if writer.poll() not in (None, 0)]
        if dead or time.monotonic() - began > START:
            raise RuntimeError(f"a writer did not get ready ({dead})")
        if all(diary.exists() and b"finished" in diary.read_bytes() for diary in diaries):
            return
        time.sleep(0.005)


def _read(diary: Path) -> Told:
    return [json.loads(line) for line in diary.read_text("utf-8").splitlines()]


def _inside(told: Told) -> bool:
    ends = Counter(line["what"] for line in told)
    return ends["begin"] > ends["end"]


def _whole(place: Path, told: list[Told], tally: Tally) -> list[str]:
    """What is wrong with the shelf after a kill, given what was told before."""
    wrong = []
    with open_shelf(place / "shelf") as shelf:
        wrong += check(shelf).problems
        for diary in told:
            wrong += as_told(shelf, diary)
        wrong += _half(shelf)
        with shelf.change():
            item = shelf.add(Kind.LESSON, "written after a kill", Form.TEXT, "so it can be")
        shelf.remove(item.id)
        wrong += _copies(place / "copies", told, tally)
    return wrong


def as_told(shelf: Shelf, diary: Told) -> list[str]:
    """What was told and is not there."""
    wrong = []
    present: dict[int, tuple[int, bool]] = {}
    for line in (line for line in diary if line["what"] == "done"):
        if "tunes" in line and "list" not in line:
            if shelf.counts().get(Kind.TUNE, 0) < line["tunes"]:
                wrong.append(f"{line['tunes']} tunes were told, fewer are there")
        elif "together" in line:
            row = shelf.db.execute(
                "SELECT count(*) FROM item WHERE name = ?", (line["together"],)
            ).fetchone()
            if row[0] != TOGETHER:
                wrong.append(f"{line['together']}: {row[0]} of {TOGETHER}")
        elif "list" in line:
            there = [link.to for link in shelf.links(line["list"], Role.ON)]
            if there != line["tunes"]:
                wrong.append(f"list {line['list']}: {there} for {line['tunes']}")
        elif "of" in line:
            present[line["of"]] = (line["present"], line["removed"])
        elif "state" in line:
            wrong += _state_as_told(shelf, line)
    done = {line["step"] for line in diary if line["what"] == "done" and "step" in line}
    open_ = {
        line.get("item") for line in diary if line["what"] == "try" and line["step"] not in done
    }
    for number, expected in present.items():
        item = shelf.item(number)
        if number not in open_ and (item.state.number, item.removed) != expected:
            wrong.append(f"item {number} is {item.state.number, item.removed}, told {expected}")
    return wrong


def _state_as_told(shelf: Shelf, line: dict[str, Any]) -> list[str]:
    states = {state.number: state for state in shelf.states(line["item"])}
    state = states.get(line["state"])
    if state is None:
        return [f"item {line['item']}, state {line['state']} is not there"]
    if "attachment" in line:
        content = shelf.attachments.read(state.attachment)
        return (
            [] if hashlib.sha256(content).hexdigest() == line["attachment"] else ["a take differs"]
        )
    same = hashlib.sha256(state.text.encode()).hexdigest() == line["sha256"]
    return [] if same else [f"item {line['item']}, state {line['state']} says something else"]


def _half(shelf: Shelf) -> list[str]:
    """Changes of which a part is there: of things added together, of lists, of tunes' facts."""
    wrong = []
    rows = shelf.db.execute(
        "SELECT name, count(*) FROM item WHERE name LIKE 'together %' GROUP BY name"
    )
    wrong += [f"{row[0]}: {row[1]} of {TOGETHER}" for row in rows if row[1] != TOGETHER]
    for item in list(shelf.items(Kind.LIST)):
        there = [link.to for link in shelf.links(item.id, Role.ON)]
        if there != json.loads(item.state.text):
            wrong.append(f"{item.name} says {item.state.text} and has {there}")
    row = shelf.db.execute(
        "SELECT count(*) FROM item JOIN state ON state.item = id AND state.number = item.state "
        "LEFT JOIN fact ON fact.item = id WHERE said = 'imported' AND fact.item IS NULL"
    ).fetchone()
    return [*wrong, f"{row[0]} tunes came in without their facts"] if row[0] else wrong


def _copies(folder: Path, told: list[Told], tally: Tally) -> list[str]:
    """Backups and exports: those told of are whole, and no others bear a name."""
    wrong = []
    lines = [line for diary in told for line in diary if line["what"] == "done"]
    whole = {Path(line[what]) for line in lines for what in ("backup", "export") if what in line}
    for path in whole:
        if not path.is_dir():
            wrong.append(f"{path} was told of and is not there")
    for path in sorted(folder.iterdir()):
        if path.name.startswith("."):
            tally.half_copies += 1
        elif path.name.startswith("backup"):
            with open_shelf(path, read_only=True) as backup:
                wrong += [f"{path.name}: {each}" for each in check(backup).problems]
        else:
            with open_shelf(folder / f".again-{path.name}") as again:
                wrong += [f"{path.name}: {each}" for each in bring_back(path, again).problems]
            shutil.rmtree(folder / f".again-{path.name}")
        shutil.rmtree(path)
    return wrong


if __name__ == "__main__":
    main()
