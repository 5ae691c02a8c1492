"""Processes that make tunes side by side; one that is lost costs no more than its tune.

They are started afresh (`spawn`), the one way that macOS, Windows and Linux share, each at a pipe
of its own and with one task in hand. So it is known which task a process was at when it came to an
end: it is tried once more in a fresh one, and given up then. Ctrl-C is for the process that hands
out the work: it ends the others at once, as they write no files.

Public: `worked_out`, `Failed`.
"""

from __future__ import annotations

import multiprocessing
from collections import deque
from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import contextmanager
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnProcess
from typing import Generic, NamedTuple, TypeVar

from reedwright.errors import ReedwrightError
from reedwright.processes import deaf_while_starting, one_thread_each, serve_quietly

Task = TypeVar("Task")
Result = TypeVar("Result")

TRIES = 2


class Failed(NamedTuple):
    """In the place of a result: what was wrong, for the user.

    `fault`: it was no mistake of the user's but one of the program.
    """

    message: str
    fault: bool = False


class _Worker(NamedTuple):
    process: SpawnProcess
    pipe: Connection


def worked_out(
    work: Callable[[Task], Result], tasks: Sequence[Task], workers: int
) -> Generator[tuple[int, Result | Failed], None, None]:
    """The place of each task and what `work` made of it, in the order in which they are done.

    What goes wrong with one task stands in the place of its result, and the others go on. `work` is
    a function of a module. With no workers it runs in this process, where a task that ends the
    process ends them all.
    """
    if workers <= 0:
        for place, task in enumerate(tasks):
            yield place, _result(work, task)
        return
    crew = _Crew(work, tasks)
    try:
        with one_thread_each():
            yield from crew.results(min(workers, len(tasks)))
    finally:
        crew.end()


class _Crew(Generic[Task, Result]):
    def __init__(self, work: Callable[[Task], Result], tasks: Sequence[Task]) -> None:
        self._work, self._tasks = work, tasks
        self._waiting = deque(range(len(tasks)))
        self._tried = [0] * len(tasks)
        self._at: dict[Connection, tuple[_Worker, int]] = {}

    def results(self, workers: int) -> Generator[tuple[int, Result | Failed], None, None]:
        for _ in range(workers):
            self._give(_started(self._work))
        while self._at:
            for pipe in wait(list(self._at)):
                assert isinstance(pipe, Connection)
                worker, place = self._at.pop(pipe)
                try:
                    result = pipe.recv()
                except (EOFError, ConnectionResetError, BrokenPipeError):
                    yield from self._lost(worker, place)
                    continue
                self._give(worker)
                yield place, result

    def _give(self, worker: _Worker) -> None:
        """The next task, or the end where there is none."""
        if not self._waiting:
            _end(worker)
            return
        place = self._waiting.popleft()
        self._tried[place] += 1
        self._at[worker.pipe] = (worker, place)
        # A process that has ended meanwhile shows itself when its answer is read.
        with _broken_pipes_seen_later():
            worker.pipe.send(self._tasks[place])

    def _lost(self, worker: _Worker, place: int) -> Iterator[tuple[int, Failed]]:
        _end(worker)
        if self._tried[place] < TRIES:
            self._waiting.appendleft(place)
        else:
            code = worker.process.exitcode
            yield place, Failed(f"the process that worked on it came to an end ({code})", True)
        if self._waiting:
            self._give(_started(self._work))

    def end(self) -> None:
        for worker, _ in self._at.values():
            worker.process.kill()
        for worker, _ in self._at.values():
            _end(worker)
        self._at.clear()


def _started(work: Callable[[Task], Result]) -> _Worker:
    context = multiprocessing.get_context("spawn")
    ours, theirs = context.Pipe()
    process = context.Process(target=_serve, args=(work, theirs), daemon=True)
    with deaf_while_starting():
        process.start()
    theirs.close()
    return _Worker(process, ours)


def _end(worker: _Worker) -> None:
    """At once: it writes no files that might stay half written."""
    worker.process.kill()
    worker.process.join()
    worker.pipe.close()


def _serve(work: Callable[[Task], Result], pipe: Connection) -> None:
    """What such a process does: tasks, one after another, until the pipe is closed."""
    serve_quietly()
    while True:
        try:
            task = pipe.recv()
        except (EOFError, OSError):
            return
        try:
            pipe.send(_result(work, task))
        except OSError:
            return


def _result(work: Callable[[Task], Result], task: Task) -> Result | Failed:
    try:
        return work(task)
    except ReedwrightError as error:
        return Failed(str(error))
    except Exception as error:  # one strange tune must not cost the other three hundred
        return Failed(f"{type(error).__name__}: {error}", True)


@contextmanager
def _broken_pipes_seen_later() -> Iterator[None]:
    try:
        yield
    except (BrokenPipeError, ConnectionResetError):
        return
