"""Work for jobs in tests: at the top of a module, so that another process can do it."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path
from typing import Any

from reedwright.errors import ReedwrightError
from reedwright.folders.placing import built_aside
from reedwright.web.jobs.model import Outcome, Progress

LONG = 60.0  # seconds: until it is stopped


def at_once(task: Any, progress: Progress) -> Outcome:
    progress(0.5, "half of it")
    return Outcome(facts={"task": task})


def long(task: Path, progress: Progress) -> Outcome:
    """Builds a folder aside until it is stopped."""
    with built_aside(task, "folder") as folder:
        (folder / "half.txt").write_text("half made")
        progress(0.25, "building")
        time.sleep(LONG)
    return Outcome()


def slow_to_clear_up(task: Path, progress: Progress) -> Outcome:
    """Says when it begins to clear up; being stopped a second time must not break into that."""
    try:
        progress(0.1, "at it")
        time.sleep(LONG)
    finally:
        progress(0.2, "clearing up")
        time.sleep(0.4)
        (task / "cleared.txt").write_text("all of it")
    return Outcome()


def deaf(task: Any, progress: Progress) -> Outcome:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    progress(0.1, "deaf")
    time.sleep(LONG)
    return Outcome()


def killed(task: Any, progress: Progress) -> Outcome:
    progress(0.5, "about to be killed")
    os.kill(os.getpid(), signal.SIGKILL)
    return Outcome()


def refused(task: Any, progress: Progress) -> Outcome:
    raise ReedwrightError("The kettle is empty: fill it.")


def faulty(task: Any, progress: Progress) -> Outcome:
    raise KeyError("a fault of the program")


def talkative(task: int, progress: Progress) -> Outcome:
    """Tells far more than a pipe holds."""
    for step in range(task):
        progress(step / task, f"step {step} {'x' * 250}")
    return Outcome(facts={"told": task})


def making(task: Path, progress: Progress) -> Outcome:
    """Makes files in a folder."""
    task.mkdir(parents=True, exist_ok=True)
    (task / "a.txt").write_text("to read")
    (task / "b.html").write_text("<script>alert(1)</script>")
    return Outcome(
        files={"a.txt": task / "a.txt", "b.html": task / "b.html", "gone.txt": task / "gone.txt"},
        folder=task,
        passing=task,
    )
