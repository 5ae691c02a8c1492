"""Processes that look at tunes side by side, and give back what they found in order.

They are started afresh (`spawn`), the one way that all systems share. Ctrl-C is for the process
that hands out the work: the others are deaf to it, finish the chunk in hand (well under a second)
and end; and they end when that process is killed.

Public: `in_order`, `HelpersLost`.
"""

from __future__ import annotations

import multiprocessing
from collections import deque
from collections.abc import Callable, Generator, Iterable
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TypeVar

from reedwright.processes import deaf_while_starting, one_thread_each, serve_quietly
from reedwright.shelf.model import ShelfError

Task = TypeVar("Task")
Found = TypeVar("Found")

AHEAD = 2
"""Chunks that wait for each process, so that none stands idle and memory stays small."""


class HelpersLost(ShelfError):
    """A process that looked at tunes came to an end before its time."""


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
    with one_thread_each():
        pool = ProcessPoolExecutor(
            workers, mp_context=multiprocessing.get_context("spawn"), initializer=serve_quietly
        )
        waiting: deque[tuple[Task, Future[Found]]] = deque()
        try:
            for task in tasks:
                with deaf_while_starting():
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
