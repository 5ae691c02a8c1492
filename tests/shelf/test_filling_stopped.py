"""An import that is killed or stopped keeps what it had done, and goes on when it is run again."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from reedwright.shelf.facts.keeping import stale
from reedwright.shelf.filling.importing import ImportOptions, import_tunes
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.model import Kind
from shelf_corpus import make_corpus

RUN = """
import sys
import time
from pathlib import Path
from reedwright.shelf.filling import importing
from reedwright.shelf.keeping.opening import open_shelf

if __name__ == "__main__":
    importing.AT_ONCE = 20
    importing.FEW_BYTES = 0
    options = importing.ImportOptions(settings=False, grade=False, workers=2)
    with open_shelf(Path(sys.argv[2])) as shelf:
        print("opened", flush=True)
        slowly = lambda share, doing: time.sleep(0.05)  # so that it is met at work
        report = importing.import_tunes(shelf, [Path(sys.argv[1])], options, slowly)
        print(len(report.added), report.same, flush=True)
"""
SMALL = ("airdsAirs",)
PLAIN = ImportOptions(settings=False, grade=False, workers=1)


@pytest.fixture(scope="module")
def corpus(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("corpus")
    make_corpus(folder, 200, seed=5, collections=SMALL)
    return folder


def started(corpus: Path, shelf: Path, script: Path) -> subprocess.Popen[str]:
    script.write_text(RUN)
    return subprocess.Popen(
        [sys.executable, str(script), str(corpus), str(shelf)],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )


def tunes_on(folder: Path) -> int:
    with sqlite3.connect(folder / "shelf.sqlite", timeout=10) as db:
        return int(db.execute("SELECT count(*) FROM item").fetchone()[0])


def wait_until(true: Callable[[], bool]) -> None:
    for _ in range(1000):
        if true():
            return
        time.sleep(0.01)
    raise AssertionError("it did not come to that")


@pytest.mark.parametrize("how", [signal.SIGKILL, signal.SIGINT])
@pytest.mark.skipif(os.name == "nt", reason="signals of POSIX")
def test_what_was_done_stays_and_the_rest_follows(
    how: signal.Signals, corpus: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "shelf"
    with started(corpus, folder, tmp_path / "run.py") as process:
        assert process.stdout is not None and process.stdout.readline() == "opened\n"
        wait_until(lambda: tunes_on(folder) >= 20)
        process.send_signal(how)
        process.wait(20)
    assert process.returncode != 0
    if sys.platform == "linux":
        wait_until(lambda: not _session(process.pid))  # no helper is left behind
    with open_shelf(folder) as shelf:
        assert shelf.db.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
        done = len(list(shelf.items(Kind.TUNE)))
        assert 20 <= done < 180
        assert not stale(shelf)  # each tune has its facts
        report = import_tunes(shelf, [corpus], PLAIN)
        assert report.added
        assert len(report.added) + report.same + len(report.refused) == 200
        texts = [item.state.text for item in shelf.items(Kind.TUNE)]
        assert len(texts) == len(set(texts)) == done + len(report.added)


def _session(leader: int) -> list[int]:
    """Processes of the session that this one leads, from /proc."""
    found = []
    for entry in Path("/proc").iterdir():
        try:
            fields = (entry / "stat").read_text().rpartition(")")[2].split()
        except (OSError, IndexError):
            continue
        if entry.name.isdigit() and int(fields[3]) == leader and fields[0] != "Z":
            found.append(int(entry.name))
    return found


def test_two_imports_at_once_double_nothing(corpus: Path, tmp_path: Path) -> None:
    added: list[int] = []

    def take_in() -> None:
        with open_shelf(tmp_path / "shelf") as shelf:
            added.append(len(import_tunes(shelf, [corpus], PLAIN).added))

    open_shelf(tmp_path / "shelf").close()
    threads = [threading.Thread(target=take_in) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with open_shelf(tmp_path / "shelf") as shelf:
        texts = [item.state.text for item in shelf.items(Kind.TUNE)]
        assert not stale(shelf)
    assert len(texts) == len(set(texts)) == sum(added)
