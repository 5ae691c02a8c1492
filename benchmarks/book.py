"""A book of 300 real tunes: from nothing, with one tune changed, and LilyPond on the same music.

    python benchmarks/book.py [--tunes N] [--no-lilypond]

The tunes are the first of the nineteenth-century collection that ships with music21. The book is
made by `reedwright book` in a fresh process, as a user would: once with an empty stock, once after
the notes of one tune were changed, once with nothing changed. Time is wall clock from the start of
Python to its end; memory the peak of the sum over all processes at work (their proportional share
of shared pages, as Linux tells it). LilyPond sets the same tunes as one document from our MusicXML
and its own `musicxml2ly`: music alone, without tab, notes or indexes. It is left out where it is
not installed.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import NamedTuple

GOAL_COLD, GOAL_CHANGED, GOAL_MB = 60.0, 5.0, 1000.0
LOOK_SECONDS = 0.05
KIB_PER_MB = 1000 * 1000 / 1024
PLAN = """\
title = "Three Hundred Tunes"
subtitle = "for the ten-hole harmonica"
maker = "Nobody in particular"
rights = "Made to measure how long it takes"
sources = ["tunes.abc"]
chapters = "type"
order = "title"
base_address = "https://tunes.example"
"""


class Run(NamedTuple):
    """Wall-clock seconds, processor seconds of all processes, peak megabytes of all at once."""

    seconds: float
    processor: float
    megabytes: float


def collection(number: int) -> str:
    """The first tunes of the collection, as one tunebook."""
    from importlib.util import find_spec

    spec = find_spec("music21")
    if spec is None or spec.origin is None:
        raise SystemExit("music21 is needed for its tunes: pip install music21")
    files = sorted((Path(spec.origin).parent / "corpus" / "oneills1850").glob("*.abc"))
    text = "\n\n".join(file.read_text(encoding="utf-8", errors="replace") for file in files)
    tunes = [f"X:{part}" for part in re.split(r"(?m)^X:", text)[1:]]
    return "\n".join(tune.strip() + "\n" for tune in tunes[:number])


def changed(text: str) -> str:
    """With one tune's first bars played otherwise."""
    head, key, body = text.partition("K:")
    line, _, music = body.partition("\n")
    return f"{head}{key}{line}\n|:G2A2 B2c2|{music}"


def run(arguments: list[str], folder: Path, environment: dict[str, str]) -> Run:
    """A command from its start to its end, with all the processes that it starts."""
    started = time.perf_counter()
    process = subprocess.Popen(
        arguments, cwd=folder, env=environment, stdout=subprocess.PIPE, stderr=subprocess.STDOUT
    )
    peak = [0.0]
    watching = threading.Thread(target=_watch, args=(process.pid, peak), daemon=True)
    watching.start()
    assert process.stdout is not None
    said = process.stdout.read()
    _, status, usage = os.wait4(process.pid, 0)
    seconds = time.perf_counter() - started
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode not in (0, 1):
        raise SystemExit(f"{arguments[:3]} failed:\n{said.decode(errors='replace')[-2000:]}")
    return Run(seconds, usage.ru_utime + usage.ru_stime, max(peak[0], usage.ru_maxrss / KIB_PER_MB))


def _watch(root: int, peak: list[float]) -> None:
    while True:
        tree = _tree(root)
        if not tree:
            return
        peak[0] = max(peak[0], sum(map(_megabytes, tree)))
        time.sleep(LOOK_SECONDS)


def _tree(root: int) -> list[int]:
    """The process and all that come from it."""
    parents: dict[int, int] = {}
    for entry in Path("/proc").glob("[0-9]*"):
        try:
            fields = (entry / "stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if fields[0] != "Z":
            parents[int(entry.name)] = int(fields[1])
    if root not in parents:
        return []
    found = [root]
    for process in found:
        found += [child for child, parent in parents.items() if parent == process]
    return found


def _megabytes(process: int) -> float:
    try:
        text = Path(f"/proc/{process}/smaps_rollup").read_text()
    except OSError:
        return 0.0
    match = re.search(r"^Pss:\s+(\d+)", text, re.MULTILINE)
    return int(match[1]) / KIB_PER_MB if match else 0.0


def lilypond(text: str, folder: Path, environment: dict[str, str]) -> Run | None:
    """The same tunes by LilyPond in one document; None where it is not there.

    Its own `abc2ly` stumbles over ties and endings of these tunes, so they go by MusicXML. What
    that takes is not counted.
    """
    if not shutil.which("lilypond") or not shutil.which("musicxml2ly"):
        return None
    from reedwright.tune.abc import read_abc
    from reedwright.tune.model import Tune
    from reedwright.tune.musicxml import write_musicxml

    tunes = [tune for tune in read_abc(text) if isinstance(tune, Tune)]
    lines = ['\\version "2.24.0"']
    for place, tune in enumerate(tunes):
        xml = folder / f"{place}.musicxml"
        xml.write_text(write_musicxml(tune), encoding="utf-8")
        run(["musicxml2ly", "--output", f"{place}.ly", xml.name], folder, environment)
        if (folder / f"{place}.ly").exists():
            lines.append(f'\\include "{place}.ly"')
    print(f"LilyPond sets {len(lines) - 1} of {len(tunes)} tunes")
    (folder / "lily.ly").write_text("\n".join(lines), encoding="utf-8")
    found = run(["lilypond", "--loglevel=ERROR", "lily.ly"], folder, environment)
    return found if (folder / "lily.pdf").exists() else None


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tunes", type=int, default=300)
    parser.add_argument("--no-lilypond", action="store_true")
    args = parser.parse_args()
    text = collection(args.tunes)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        environment = {**os.environ, "REEDWRIGHT_STOCK": str(folder / "stock")}
        (folder / "plan.toml").write_text(PLAN, encoding="utf-8")
        book = [sys.executable, "-m", "reedwright", "book", "plan.toml", "--out", "book.pdf"]

        (folder / "tunes.abc").write_text(text, encoding="utf-8")
        cold = run(book, folder, environment)
        first = (folder / "book.pdf").read_bytes()
        kept = sum(file.stat().st_size for file in (folder / "stock").rglob("*.entry"))
        (folder / "tunes.abc").write_text(changed(text), encoding="utf-8")
        one = run(book, folder, environment)
        if (folder / "book.pdf").read_bytes() == first:
            raise SystemExit("the changed tune did not change the book")
        (folder / "tunes.abc").write_text(text, encoding="utf-8")
        warm = run(book, folder, environment)
        if (folder / "book.pdf").read_bytes() != first:
            raise SystemExit("from the stock the book is another than from nothing")
        lily = None if args.no_lilypond else lilypond(text, folder, environment)
        python = run([sys.executable, "-c", "import numpy, verovio, typst"], folder, environment)

    print(f"a book of {args.tunes} tunes, {len(first) / 1e6:.1f} MB; stock {kept / 1e6:.1f} MB")
    print(f"  goals: {GOAL_COLD:.0f} s cold, {GOAL_CHANGED:.0f} s changed, {GOAL_MB:.0f} MB")
    print("                           wall   processor     peak")
    for what, each in (
        ("from nothing", cold),
        ("one tune changed", one),
        ("nothing changed", warm),
        ("LilyPond, music alone", lily),
        ("libraries alone", python),
    ):
        if each is not None:
            times = f"{each.seconds:6.1f} s   {each.processor:6.1f} s"
            print(f"  {what:22} {times}  {each.megabytes:5.0f} MB")
    if lily is None:
        print("  LilyPond: not installed, or it made no PDF of these tunes")
    else:
        print(
            f"  of LilyPond's time: wall {cold.seconds / lily.seconds:.2f}, "
            f"processor {cold.processor / lily.processor:.2f}; with one tune changed "
            f"{one.seconds / lily.seconds:.3f}"
        )
    print(f"  one tune changed, of the time from nothing: {one.seconds / cold.seconds:.3f}")


if __name__ == "__main__":
    main()
