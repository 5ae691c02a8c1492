"""How long it takes to bring a large library onto the shelf, and how large that makes it.

    python benchmarks/shelf_import.py [--tunes 50000] [--seed N] [--corpus FOLDER]

A library is made (`shelf_corpus`), taken in by a process of its own, taken in again unchanged, and
again after a tenth of its tunebooks' tunes were changed. Beside it: reading the same tunes with
`read_tunes` and no more, in one process, and with music21 (a sample). Memory is that of the
whole family of processes, looked at twice a second (Linux only); `CPU` are seconds of all their
processors, which say more than the clock where other work is going on.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import NamedTuple

from reedwright.player.loading import load_profile
from reedwright.shelf.facts.grades import grade_tunes
from reedwright.shelf.facts.working_out import facts_of
from reedwright.shelf.keeping.opening import DATABASE, open_shelf
from reedwright.shelf.model import Kind
from reedwright.tune.model import Tune
from reedwright.tune.reading import files_of_tunes, read_tunes
from shelf_corpus import make_corpus

SEED = 2027
MUSIC21_TUNES = 60
GRADED = 400
LOOK_AGAIN = 0.5  # seconds

RUN = """
import json, sys, time
from pathlib import Path
from reedwright.shelf.filling.importing import ImportOptions, import_tunes
from reedwright.shelf.keeping.opening import open_shelf

if __name__ == "__main__":
    began, times = time.monotonic(), []
    def progress(share, doing):
        times.append((share, time.monotonic() - began))
    with open_shelf(Path(sys.argv[2])) as shelf:
        options = ImportOptions(grade=False, update=sys.argv[3] == "update")
        report = import_tunes(shelf, [Path(sys.argv[1])], options, progress)
    print(json.dumps({
        "seconds": report.seconds,
        "taking": max((at for share, at in times if share <= 0.75), default=0.0),
        "added": len(report.added), "same": report.same, "updated": len(report.updated),
        "refused": len(report.refused), "settings": report.settings,
    }))
"""


class Run(NamedTuple):
    """What an import in a process of its own says, the most memory in MB, seconds of processors."""

    report: dict[str, float]
    memory: float
    cpu: float


def run(corpus: Path, shelf: Path, update: bool = False) -> Run:
    before = children_cpu()
    script = shelf.with_suffix(".py")
    script.write_text(RUN)
    process = subprocess.Popen(
        [sys.executable, str(script), str(corpus), str(shelf), "update" if update else ""],
        stdout=subprocess.PIPE,
        text=True,
    )
    most = [0.0]
    over = threading.Event()

    def watch() -> None:
        while not over.wait(LOOK_AGAIN):
            most[0] = max(most[0], memory(process.pid))

    watcher = threading.Thread(target=watch)
    watcher.start()
    out, _ = process.communicate()
    over.set()
    watcher.join()
    return Run(json.loads(out), most[0], children_cpu() - before)


def children_cpu() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def memory(root: int) -> float:
    """Memory of a process and all that came of it, in MB; what they share counts once (PSS)."""
    children: dict[int, list[int]] = {}
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            parent = int((entry / "stat").read_text().rpartition(")")[2].split()[1])
        except (OSError, IndexError, ValueError):
            continue
        children.setdefault(parent, []).append(int(entry.name))
    family, total = [root], 0.0
    while family:
        pid = family.pop()
        family += children.get(pid, [])
        try:
            rollup = Path(f"/proc/{pid}/smaps_rollup").read_text()
        except OSError:
            continue
        total += sum(int(x.split()[1]) for x in rollup.splitlines() if x.startswith("Pss:")) / 1024
    return total


def change_some(corpus: Path, chance: random.Random) -> None:
    """A note more in a tenth of the tunes of the tunebooks."""
    for path in sorted((corpus / "tunebooks").glob("*.abc")):
        tunes = path.read_text("utf-8").split("\n\n")
        changed = [
            tune.rstrip("\n") + " c2 |]" if chance.random() < 0.1 else tune for tune in tunes
        ]
        path.write_text("\n\n".join(changed), "utf-8")


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--tunes", type=int, default=50_000)
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--corpus", type=Path, help="a library made before")
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        corpus, shelf = chosen.corpus or Path(made) / "corpus", Path(made) / "shelf"
        if chosen.corpus is None:
            make_corpus(corpus, chosen.tunes, chosen.seed)
        print(f"{os.cpu_count()} cores\n\n| what | seconds | CPU | tunes a second | MB |")
        print("| --- | --- | --- | --- | --- |", flush=True)
        first = run(corpus, shelf)
        told = first.report
        tunes = int(told["added"] + told["same"])
        row("taking in and looking for settings", told["seconds"], tunes, first)
        row("of which taking in", told["taking"], tunes)
        again = run(corpus, shelf)
        row("the same again, nothing new", again.report["seconds"], tunes, again)
        read, facts = reading(corpus)
        row("`read_tunes` of the unzipped files, one process", *read)
        row("facts of these, one process", *facts)
        row(f"music21, {MUSIC21_TUNES} of these", *by_music21(corpus, chosen.seed))
        graded(shelf)
        size = (shelf / DATABASE).stat().st_size
        print(
            f"\nadded {told['added']:.0f}, the same text {told['same']:.0f}, refused "
            f"{told['refused']:.0f}, pairs offered as settings {told['settings']:.0f}; the file "
            f"has {size / 2**20:.0f} MB, {size / max(1, told['added']):.0f} bytes a tune",
            flush=True,
        )
        if chosen.corpus is None:
            change_some(corpus, random.Random(chosen.seed))
            changed = run(corpus, shelf, update=True).report
            print(
                f"a tenth of the tunebooks changed: {changed['seconds']:.1f} s, "
                f"{changed['updated']:.0f} updated, {changed['added']:.0f} added"
            )


def row(what: str, seconds: float, tunes: int, run: Run | None = None) -> None:
    cpu, memory = ("", "") if run is None else (f"{run.cpu:.1f}", f"{run.memory:.0f}")
    rate = tunes / max(seconds, 1e-9)
    print(f"| {what} | {seconds:.1f} | {cpu} | {rate:.0f} | {memory} |", flush=True)


def reading(corpus: Path) -> tuple[tuple[float, int], tuple[float, int]]:
    """Seconds and tunes of plain reading, and of the facts of what was read."""
    read = facts = 0.0
    count = 0
    for path in files_of_tunes([corpus]):
        start = time.perf_counter()
        tunes = [tune for tune in read_tunes(path) if isinstance(tune, Tune)]
        middle = time.perf_counter()
        for tune in tunes:
            facts_of(tune)
        read, facts = read + middle - start, facts + time.perf_counter() - middle
        count += len(tunes)
    return (read, count), (facts, count)


def by_music21(corpus: Path, seed: int) -> tuple[float, int]:
    import music21

    tunes = [
        tune.text
        for path in sorted((corpus / "tunebooks").glob("*.abc"))[:20]
        for tune in read_tunes(path)
        if isinstance(tune, Tune)
    ]
    chosen = random.Random(seed).sample(tunes, MUSIC21_TUNES)
    start = time.perf_counter()
    for text in chosen:
        music21.converter.parse(text, format="abc")
    return time.perf_counter() - start, len(chosen)


def graded(folder: Path) -> None:
    """The grades of some tunes, in several processes and in one."""
    player = load_profile("player")
    with open_shelf(folder) as shelf:
        items = [item.id for item in shelf.items(Kind.TUNE)]
        chosen = random.Random(1).sample(items, min(len(items), 2 * GRADED))
        for workers, some in ((None, chosen[:GRADED]), (1, chosen[GRADED:])):
            start = time.perf_counter()
            grade_tunes(shelf, player, items=some, workers=workers)
            how = "one process" if workers else "a process a core"
            row(f"grades of {len(some)}, {how}", time.perf_counter() - start, len(some))


if __name__ == "__main__":
    main()
