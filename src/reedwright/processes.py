"""What all processes that share work need: how many, started deaf to Ctrl-C, one thread each.

They are started afresh (`spawn`), the one way that macOS, Windows and Linux share. Ctrl-C is for
the process that hands out the work.

Public: `cores`, `one_thread_each`, `deaf_while_starting`, `serve_quietly`.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager

_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


def cores() -> int:
    """How many processes this one may use at once."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1


@contextmanager
def one_thread_each() -> Iterator[None]:
    """Processes started within use one thread each for sums: there is one process a core."""
    before = {name: os.environ.get(name) for name in _THREADS}
    os.environ.update(dict.fromkeys(_THREADS, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


@contextmanager
def deaf_while_starting() -> Iterator[None]:
    """Processes started within never hear Ctrl-C, not even while they start.

    It is heard here when the block ends. Where the system has no masks of signals they are deaf
    once they are started.
    """
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def serve_quietly() -> None:
    """What such a process does first: it hears no Ctrl-C, and ends when its parent is killed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)
