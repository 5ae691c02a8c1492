"""Processes that work out tunes side by side.

They are started afresh (`spawn`), which is the one way that macOS, Windows and Linux share, each
with the problem and the layouts handed over once. Ctrl-C is for the process that hands
out the work: the others finish the chunk in hand, a second's work or a few, and end; pressed again
meanwhile it is not heard, as a stop that is stopped would leave them waiting for ever.

Public: `chunks_solved`, `WorkersLost`.
"""

from __future__ import annotations

import multiprocessing
import signal
import threading
import time
from collections.abc import Generator, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager
from types import FrameType

from reedwright.errors import ReedwrightError
from reedwright.processes import deaf_while_starting, one_thread_each
from reedwright.workshop.search.filling import Chunk
from reedwright.workshop.search.model import Layout
from reedwright.workshop.search.problem import Problem
from reedwright.workshop.search.rows import TuneRow
from reedwright.workshop.search.tunesolving import Bench, solved

CHUNK_SECONDS = 0.7
"""How long a chunk of tunes is to take: long beside handing it over, short for one who waits."""

MOST_AT_ONCE = 32  # tunes in a chunk

FEW = 4
"""Tunes that are not worth the start of further processes, which takes some seconds each."""


class WorkersLost(ReedwrightError):
    """A process that worked out tunes came to an end before its time."""


def chunks_solved(
    problem: Problem, layouts: Sequence[Layout], indices: Sequence[int], workers: int
) -> Generator[Chunk, None, None]:
    """The tunes of these indexes on the layouts, in chunks, in the order in which they are done.

    Raises `WorkersLost`.
    """
    if workers <= 1 or len(indices) <= FEW:
        bench = Bench(problem, layouts)
        for index in indices:
            yield [index], [solved(problem.tunes[index], bench)]
        return
    with one_thread_each(), _heard_once():
        pool = ProcessPoolExecutor(
            min(workers, len(indices)),
            mp_context=multiprocessing.get_context("spawn"),
            initializer=_begin,
            initargs=(problem, layouts),
        )
        try:
            yield from _handed_out(pool, indices, workers)
        except BrokenProcessPool as error:
            raise WorkersLost(
                "a process that worked out tunes was ended from outside, perhaps for want of "
                "memory. Run the search again, with fewer workers if it happens again."
            ) from error
        finally:
            # Not left in the midst of it: a process that is still starting would miss its parent.
            with _deaf_to_interrupts():
                pool.shutdown(wait=True, cancel_futures=True)


def _handed_out(pool: ProcessPoolExecutor, indices: Sequence[int], workers: int) -> Iterator[Chunk]:
    """Chunks of a length that follows from how long the last ones took."""
    running: dict[Future[tuple[float, list[TuneRow]]], list[int]] = {}
    size, place = 1, 0
    while place < len(indices) or running:
        while place < len(indices) and len(running) < 2 * workers:
            # Towards the end smaller ones, so that none waits long for the last.
            share = max(1, (len(indices) - place) // (2 * workers))
            chunk = list(indices[place : place + min(size, share)])
            place += len(chunk)
            with _deaf_to_interrupts():
                running[pool.submit(_worked_out, chunk)] = chunk
        finished, _ = wait(running, return_when=FIRST_COMPLETED)
        for future in finished:
            chunk = running.pop(future)
            seconds, rows = future.result()
            each = max(seconds / len(chunk), 1e-4)
            size = max(1, min(MOST_AT_ONCE, round(CHUNK_SECONDS / each)))
            yield chunk, rows


_mine: list[tuple[Problem, Bench]] = []


def _begin(problem: Problem, layouts: Sequence[Layout]) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _mine[:] = [(problem, Bench(problem, layouts))]


def _worked_out(chunk: list[int]) -> tuple[float, list[TuneRow]]:
    """The rows, and the seconds that they took."""
    ((problem, bench),) = _mine
    began = time.monotonic()
    rows = [solved(problem.tunes[index], bench) for index in chunk]
    return time.monotonic() - began, rows


@contextmanager
def _deaf_to_interrupts() -> Iterator[None]:
    """Ctrl-C within is heard when the block ends, so that no process is left half started; and
    processes started within never hear it, not even while they start.

    Where the system has no masks of signals they are deaf once they are started.
    """
    pressed: list[int] = []
    mine = threading.current_thread() is threading.main_thread()
    heard = signal.signal(signal.SIGINT, lambda number, _: pressed.append(number)) if mine else None
    try:
        with deaf_while_starting():
            yield
    finally:
        if mine:
            signal.signal(signal.SIGINT, heard or signal.SIG_DFL)
    if pressed:
        signal.raise_signal(signal.SIGINT)


@contextmanager
def _heard_once() -> Iterator[None]:
    """Of several presses of Ctrl-C within, the first alone is heard."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.getsignal(signal.SIGINT)

    def first(number: int, frame: FrameType | None) -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        if callable(before):
            before(number, frame)

    signal.signal(signal.SIGINT, first if callable(before) else before)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
