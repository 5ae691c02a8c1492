"""Twenty pages at once, editing and playing, against the server as users start it.

Each page has a 32-bar tune of its own: it changes a note every three seconds or so, pins how a note
is played now and then, undoes that now and then, and once in a while fetches sound and times, as
playing does. Ungated, beside one page alone doing the same; between the edits a page asks whether
the server is there, which must be answered whatever is being computed.

    .venv/bin/python benchmarks/web_load.py [--pages 20] [--seconds 60] [--seed 7]
"""

from __future__ import annotations

import argparse
import os
import random
import re
import resource
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import httpx

from chance_reels import changed, reel
from reedwright.shelf.facts.tunes import add_tune
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.tune.abc import read_abc
from reedwright.tune.model import Tune

PAUSE = (2.0, 4.0)  # seconds between one page's edits
CHOICE = 0.15  # of all edits, after which a note is pinned or that is undone
LISTENING = 0.05  # of all edits, after which the tune is played
GOAL = 0.5  # seconds, p95 of an edit


@contextmanager
def server(shelf: Path) -> Iterator[str]:
    """`reedwright serve` in a process of its own; its address."""
    command = [sys.executable, "-m", "reedwright", "serve", "--no-browser", "--port", "0"]
    program = subprocess.Popen(
        [*command, "--shelf", str(shelf), "--made", str(shelf.parent / "made")],
        stderr=subprocess.PIPE,
        text=True,
    )
    assert program.stderr is not None
    found = None
    while found is None:
        line = program.stderr.readline()
        assert line, "the server did not start"
        found = re.search(r"at (http://\S+)/", line)
    try:
        yield found[1]
    finally:
        program.send_signal(signal.SIGINT)
        program.communicate(timeout=30)


class Page(threading.Thread):
    """One person at one tune."""

    def __init__(self, url: str, tune: int, seed: int, until: float) -> None:
        super().__init__()
        self._client = httpx.Client(base_url=url, timeout=60)
        self._tune, self._until = tune, until
        self._chance = random.Random(seed)
        self.took: dict[str, list[float]] = defaultdict(list)
        self.wrong: list[str] = []

    def run(self) -> None:
        with self._client:
            view = self._ask("page opened", "GET", "view")
            time.sleep(self._chance.uniform(0, PAUSE[1]))  # people do not type in step
            while view is not None and time.monotonic() < self._until:
                text = changed(view["text"], self._chance)
                asked = {"text": text, "made_from": view["version"]}
                view = self._ask("edit", "POST", "text", json=asked) or view
                if self._chance.random() < CHOICE:
                    view = self._choose(view)
                if self._chance.random() < LISTENING:
                    self._ask("times", "GET", "times")
                    self._ask("sound", "GET", "sound")
                self._ask("touch", "GET", "/touch")
                time.sleep(self._chance.uniform(*PAUSE))

    def _choose(self, view: Any) -> Any:
        if self._chance.random() < 0.3:
            return self._ask("undo", "POST", "undo", json={"made_from": view["version"]}) or view
        note = self._chance.choice(view["notes"])["id"]
        detail = self._ask("note looked at", "GET", f"notes/{note}")
        if not detail or not detail["ways"]:
            return view
        asked = {
            "made_from": view["version"],
            "do": "play",
            "note": note,
            "way": self._chance.choice(detail["ways"])["way"],
        }
        return self._ask("choice", "POST", "choices", json=asked) or view

    def _ask(self, what: str, method: str, path: str, **given: Any) -> Any:
        address = path if path.startswith("/") else f"/tunes/{self._tune}/{path}"
        begin = time.perf_counter()
        try:
            answer = self._client.request(method, address, **given)
        except httpx.HTTPError as error:
            self.wrong.append(f"{what}: {error!r}")
            return None
        self.took[what].append(time.perf_counter() - begin)
        if answer.status_code != 200:
            self.wrong.append(f"{what}: {answer.status_code} {answer.text[:200]}")
            return None
        is_json = answer.headers["content-type"].startswith("application/json")
        return answer.json() if is_json else True


def loaded(pages: int, seconds: float, seed: int) -> tuple[dict[str, list[float]], list[str]]:
    """Seconds that each thing took, and what went wrong."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "shelf"
        numbers = []
        with open_shelf(place) as shelf:
            for k in range(pages):
                (tune,) = read_abc(reel(random.Random(seed + k)))
                assert isinstance(tune, Tune)
                numbers.append(add_tune(shelf, tune).id)
        with server(place) as url:
            until = time.monotonic() + seconds
            people = [Page(url, tune, seed + 100 * tune, until) for tune in numbers]
            for each in people:
                each.start()
            for each in people:
                each.join()
    took: dict[str, list[float]] = defaultdict(list)
    for each in people:
        for what, times in each.took.items():
            took[what] += times
    return took, [trouble for each in people for trouble in each.wrong]


def worked() -> float:
    """Seconds of processor time of all servers that have ended, with their starting."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def told(took: list[float]) -> str:
    if not took:
        return f"{'-':>6}{'-':>10}{'-':>10}{'-':>10}"
    p95 = statistics.quantiles(took, n=20, method="inclusive")[-1] if len(took) > 1 else took[0]
    middle = statistics.median(took)
    return "".join(
        [f"{len(took):6}", *(f"{1000 * each:7.0f} ms" for each in (middle, p95, max(took)))]
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--pages", type=int, default=20)
    parser.add_argument("--seconds", type=float, default=60)
    parser.add_argument("--seed", type=int, default=7)
    args = parser.parse_args()
    alone, wrong_alone = loaded(1, args.seconds / 2, args.seed)
    before = os.getloadavg()[0] if hasattr(os, "getloadavg") else float("nan")
    so_far = worked()
    many, wrong = loaded(args.pages, args.seconds, args.seed)
    print(f"{os.cpu_count()} cores; {before:.1f} other programs wanted them as it began")
    head = f"{'count':>6}{'median':>10}{'p95':>10}{'longest':>10}"
    print(f"{'':16}{'one page':^36}  {f'{args.pages} pages':^36}")
    print(f"{'':16}{head}  {head}")
    for what in (
        "page opened",
        "edit",
        "note looked at",
        "choice",
        "undo",
        "times",
        "sound",
        "touch",
    ):
        print(f"{what:16}{told(alone[what])}  {told(many[what])}")
    print(f"errors: {len(wrong_alone)} and {len(wrong)}; goal: 95 of 100 edits in {GOAL:.1f} s")
    print(
        f"the {args.pages} pages' server worked {worked() - so_far:.0f} s in {args.seconds:.0f} s"
    )
    for trouble in sorted(set(wrong_alone + wrong))[:10]:
        print(f"  {trouble}")


if __name__ == "__main__":
    main()
