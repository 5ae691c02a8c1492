"""Processes that look at tunes side by side, and give back what they found in order.

They are started afresh (`spawn`), the one way that all systems share. Ctrl-C is for the process
that hands out the work: the others are deaf to it, finish the chunk in hand (well under a second)
and end; and they end when that process is killed.

Public: `in_order`, `cores`, `HelpersLost`.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from typing import TypeVar

from reedwright.shelf.model import ShelfError

Task = TypeVar("Task")
Found = TypeVar("Found")

AHEAD = 2
"""Chunks that wait for each process, so that none stands idle and memory stays small."""

_THREADS = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


class HelpersLost(ShelfError):
    """A process that looked at tunes came to an end before its time."""


def cores() -> int:
    """How many processes this one may use at once."""
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1


def in_order(
    work: Callable[[Task], Found], tasks: Iterable[Task], workers: int
) -> Generator[tuple[Task, Found], None, None]:
    """Each task with what `work` made of it. Tasks are asked for only as they are needed.

    `work` is a function of a module; with one worker it runs in this process. Raises
    `HelpersLost`, and what `work` raises.
    """
    if workers <= 1:
        for task in tasks:
            yield task, work(task)
        return
    with _one_thread_each():
        pool = ProcessPoolExecutor(
            workers, mp_context=multiprocessing.get_context("spawn"), initializer=_begin
        )
        waiting: deque[tuple[Task, Future[Found]]] = deque()
        try:
            for task in tasks:
                with _deaf_while_starting():
                    waiting.append((task, pool.submit(work, task)))
                if len(waiting) > (1 + AHEAD) * workers:
                    first, future = waiting.popleft()
                    yield first, future.result()
            while waiting:
                first, future = waiting.popleft()
                yield first, future.result()
        except BrokenProcessPool as error:
            raise HelpersLost(
                "A process that looked at tunes was ended from outside, perhaps for want of "
                "memory. What was done is kept: run the same again to go on."
            ) from error
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _begin() -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


@contextmanager
def _deaf_while_starting() -> Iterator[None]:
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


@contextmanager
def _one_thread_each() -> Iterator[None]:
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
