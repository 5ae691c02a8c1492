"""Work that several people want at once, shared out over the machine's cores.

Python computes in one thread at a time. What one person asks for is done here, where nothing has to
be sent; what is asked for meanwhile goes to processes of our own, which are started when they are
first needed and ready a second later.

Public: `Crew`, `most_processes`.
"""

from __future__ import annotations

import multiprocessing
import threading
from collections.abc import Callable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TypeVar

from reedwright.processes import cores, deaf_while_starting, one_thread_each, serve_quietly

Found = TypeVar("Found")

MOST = 4
"""Processes besides this one; a lesson's worth of people, not a city's."""


def most_processes() -> int:
    """How many others this machine has room for."""
    return min(MOST, cores() - 1)


class Crew:
    """`processes`: how many others may work beside this one. `prepare`, a function of a module, is
    called in each as it begins, to have at hand what its work needs."""

    def __init__(self, processes: int, prepare: Callable[[], None]) -> None:
        self._processes = processes
        self._prepare = prepare
        self._here = threading.Lock()
        self._lock = threading.Lock()
        self._pool: ProcessPoolExecutor | None = None
        self._ready: Future[None] | None = None
        self._sent = 0  # to other processes, and not yet back

    def do(self, work: Callable[..., Found], *values: object) -> Found:
        """What `work` makes of the values. It is a function of a module, the same wherever it runs;
        what it takes, gives and raises can be sent to other processes."""
        if self._idle():
            return self._there(work, *values)
        if self._here.acquire(blocking=False):
            try:
                return work(*values)
            finally:
                self._here.release()
        return self._there(work, *values)

    def _there(self, work: Callable[..., Found], *values: object) -> Found:
        """In another process, or here where that cannot be."""
        pool = self._others()
        if pool is not None:
            with self._lock:
                self._sent += 1
            try:
                return pool.submit(work, *values).result()
            except (BrokenProcessPool, RuntimeError):  # ended from outside, or at the very end
                self._lost(pool)
            finally:
                with self._lock:
                    self._sent -= 1
        with self._here:
            return work(*values)

    def _idle(self) -> bool:
        """Whether a process that was started for several stands idle: then this one, which answers
        everybody, is left free."""
        with self._lock:
            ready = self._pool is not None and self._ready is not None and self._ready.done()
            return ready and self._sent < self._processes

    def close(self) -> None:
        """End the processes; work asked for afterwards is done here."""
        with self._lock:
            pool, self._pool, self._processes = self._pool, None, 0
        if pool is not None:
            pool.shutdown(wait=True, cancel_futures=True)

    def _others(self) -> ProcessPoolExecutor | None:
        """The other processes, where they are ready; else they are being started."""
        if self._processes < 1:
            return None
        with self._lock:
            if self._pool is None and self._processes >= 1:
                self._start()
            ready = self._ready is not None and self._ready.done()
            return self._pool if ready else None

    def _start(self) -> None:
        with one_thread_each(), deaf_while_starting():
            self._pool = ProcessPoolExecutor(
                self._processes,
                mp_context=multiprocessing.get_context("spawn"),
                initializer=serve_quietly,
            )
            futures = [self._pool.submit(self._prepare) for _ in range(self._processes)]
        self._ready = futures[-1]

    def _lost(self, pool: ProcessPoolExecutor) -> None:
        with self._lock:
            if self._pool is pool:
                self._pool = self._ready = None
        pool.shutdown(wait=False, cancel_futures=True)
