"""All jobs of a running server: begun, watched, stopped.

Public: `Jobs`.
"""

from __future__ import annotations

import logging
import secrets
import shutil
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from math import inf
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.context import SpawnProcess
from pathlib import Path
from typing import Any

from reedwright.processes import deaf_while_starting
from reedwright.web.jobs.model import Job, JobState, NoSuchJob, Outcome, TooManyJobs, Work
from reedwright.web.jobs.process import run

_LOG = logging.getLogger("reedwright.web")

LOOK = 0.5  # seconds after which a job that was told to stop is looked at
PATIENCE = 10.0  # seconds that a job has to clear up after being told to stop
KEPT = 100  # jobs that are over and still known
ENDED = "The work ended unexpectedly; perhaps there was too little memory."
NOT_STARTED = "The work could not be started; perhaps there was too little memory. Try it again."


@dataclass(frozen=True, slots=True)
class _Asked:
    """A job that waits its turn."""

    name: str
    work: Work
    task: Any


@dataclass(frozen=True, slots=True)
class _Worker:
    """A job's process, the pipe through which it tells us, and the one to tell it to stop."""

    process: SpawnProcess
    said: Connection
    tell: Connection


class Jobs:
    """Jobs by name. Safe to use from several threads; jobs beyond `at_once` wait their turn."""

    def __init__(self, at_once: int, most_waiting: int) -> None:
        self._at_once = at_once
        self._most = at_once + most_waiting
        self._jobs: dict[str, Job] = {}
        self._waiting: deque[_Asked] = deque()
        self._at_work: set[str] = set()
        self._workers: dict[str, _Worker] = {}
        self._told: dict[str, float] = {}  # to stop, and when
        self._brought: dict[str, tuple[Path, ...]] = {}
        self._changed = threading.Condition()
        self._listeners: list[Callable[[], None]] = []
        self._closed = False
        self.life = secrets.token_hex(4)
        """Told apart from other lives of the server, whose moments count from 0, too."""
        self._moment = 0

    # -- what pages ask for -----------------------------------------------------------------

    def begin(
        self,
        kind: str,
        title: str,
        page: str,
        work: Work,
        task: Any,
        brought: Sequence[Path] = (),
    ) -> Job:
        """Have work done. `brought`: passing files and folders of ours that the task is about; they
        are gone when it is over, however that comes, and where it is not begun. Raises
        `TooManyJobs`."""
        try:
            return self._begin(kind, title, page, work, task, tuple(brought))
        except TooManyJobs:
            _remove(brought)
            raise

    def _begin(
        self, kind: str, title: str, page: str, work: Work, task: Any, brought: tuple[Path, ...]
    ) -> Job:
        with self._changed:
            unfinished = sum(not job.over for job in self._jobs.values())
            if self._closed:
                raise TooManyJobs("Reedwright is being closed; nothing new is begun.")
            if unfinished >= self._most:
                raise TooManyJobs(
                    f"{unfinished} jobs are at work or waiting. Wait until one has ended, or stop "
                    "one."
                )
            job = Job(secrets.token_urlsafe(9), kind, title, page, datetime.now(UTC))
            self._jobs[job.name] = job
            self._brought[job.name] = brought
            self._forget([name for name, each in self._jobs.items() if each.over][:-KEPT])
            self._waiting.append(_Asked(job.name, work, task))
            self._change(job.name)
            self._start_next()
            return self._jobs[job.name]

    def job(self, name: str) -> Job:
        """Raises `NoSuchJob`."""
        with self._changed:
            if name not in self._jobs:
                raise NoSuchJob("There is no such job; Reedwright may have been started anew.")
            return self._jobs[name]

    def all(self, kind: str = "", page: str = "") -> Sequence[Job]:
        """The newest first; of one kind or begun on one page, where that is said."""
        with self._changed:
            return [
                job
                for job in reversed(self._jobs.values())
                if kind in ("", job.kind) and page in ("", job.page)
            ]

    def last(self, kind: str, name: str = "", done: bool = False) -> Job | None:
        """The job of that name, which must be of that kind, or the newest of the kind where none is
        named; None where there was none. `done`: among those that are. Raises `NoSuchJob`."""
        found = [self.job(name)] if name else self.all(kind)
        fits = (
            job for job in found if job.kind == kind and (not done or job.standing is JobState.DONE)
        )
        first = next(fits, None)
        if name and first is None:
            raise NoSuchJob("There is no such work; begin it again.")
        return first

    def wait(self, name: str, seen: int, seconds: float) -> Job:
        """The job once it has another version than the one seen, or after so many seconds."""
        with self._changed:
            self._changed.wait_for(
                lambda: name not in self._jobs or self._jobs[name].version != seen, seconds
            )
        return self.job(name)

    @contextmanager
    def listening(self, listener: Callable[[], None]) -> Iterator[None]:
        """Call it, from any thread, whenever something about a job changes. It must be quick."""
        with self._changed:
            self._listeners.append(listener)
        try:
            yield
        finally:
            with self._changed:
                self._listeners.remove(listener)

    @property
    def closed(self) -> bool:
        return self._closed

    def stop(self, name: str) -> Job:
        """Have a job stop as by Ctrl-C: it leaves nothing half made. One that does not heed that
        is ended after `PATIENCE`."""
        with self._changed:
            job = self.job(name)
            if job.over:
                return job
            if name not in self._at_work:
                self._waiting = deque(each for each in self._waiting if each.name != name)
                self._change(name, standing=JobState.STOPPED, doing="")
            elif name not in self._told:
                self._told[name] = time.monotonic()
                self._change(name, doing="being stopped")
                if name in self._workers:
                    self._say_stop(self._workers[name])
            return self._jobs[name]

    def forget(self, name: str) -> None:
        """Leave a job that is over out of the list. What it made stays. Raises `NoSuchJob`."""
        with self._changed:
            if self.job(name).over:
                self._forget([name])
                self._tell()

    def close(self) -> None:
        """Stop everything, as the server ends."""
        with self._changed:
            self._closed = True
            for job in self.all():
                if not job.over:
                    self.stop(job.name)
            self._tell()
            self._changed.wait_for(lambda: not self._at_work, PATIENCE)
            for worker in self._workers.values():
                worker.process.kill()
            self._changed.wait_for(lambda: not self._at_work, PATIENCE)
            for job in self._jobs.values():
                _clear(job)

    # -- the work ---------------------------------------------------------------------------

    def _start_next(self) -> None:
        """While `_changed` is held: as many as may be at work at once."""
        while self._waiting and len(self._at_work) < self._at_once:
            asked = self._waiting.popleft()
            self._at_work.add(asked.name)
            threading.Thread(target=self._look_after, args=(asked,), daemon=True).start()

    def _look_after(self, asked: _Asked) -> None:
        name = asked.name
        try:
            worker = _started(asked)
        except Exception:  # no process, no memory, a task that can't be handed over
            self._end(name, JobState.FAILED, NOT_STARTED)
            return
        with self._changed:
            self._workers[name] = worker
            self._change(name, standing=JobState.WORKING)
            if name in self._told:  # while it was being started
                self._say_stop(worker)
        try:
            while not self.job(name).over:
                if worker.said.poll(LOOK):
                    self._hear(name, worker.said.recv())
                elif time.monotonic() - self._told.get(name, inf) > PATIENCE:
                    worker.process.kill()
        except Exception:  # its process is gone
            _LOG.info("%s: its process has ended", asked)
        _see_off(worker)
        if name in self._told:  # ended by us, in the midst of something
            self._end(name, JobState.STOPPED, "")
        else:
            self._end(name, JobState.FAILED, ENDED)

    @staticmethod
    def _say_stop(worker: _Worker) -> None:
        with suppress(OSError):
            worker.tell.send("stop")

    def _hear(self, name: str, said: tuple[Any, ...]) -> None:
        with self._changed:
            match said:
                case ("progress", float(share), str(doing)):
                    if name in self._told:
                        doing = "being stopped"
                    self._change(name, share=share, doing=doing)
                case ("done", Outcome() as outcome):
                    self._change(name, standing=JobState.DONE, share=1.0, doing="", outcome=outcome)
                case ("stopped",):
                    self._change(name, standing=JobState.STOPPED, doing="")
                case ("failed", str(message)):
                    self._change(name, standing=JobState.FAILED, doing="", message=message)

    def _end(self, name: str, standing: JobState, message: str) -> None:
        """Its process is gone: so it ended where it had not said how, and the next may begin."""
        with self._changed:
            if name in self._jobs and not self._jobs[name].over:
                self._change(name, standing=standing, doing="", message=message)
            self._workers.pop(name, None)
            self._told.pop(name, None)
            self._at_work.discard(name)
            self._start_next()
            self._changed.notify_all()

    def _change(self, name: str, **changes: Any) -> None:
        """While `_changed` is held. What was brought is gone before anybody hears of the end."""
        job = self._jobs[name]
        self._moment += 1
        self._jobs[name] = replace(job, version=job.version + 1, moment=self._moment, **changes)
        if self._jobs[name].over:
            _remove(self._brought.pop(name, ()))
        self._tell()

    def _tell(self) -> None:
        self._changed.notify_all()
        for listener in self._listeners:
            listener()

    def _forget(self, names: Sequence[str]) -> None:
        for name in names:
            _clear(self._jobs.pop(name))


def _started(asked: _Asked) -> _Worker:
    """A process that is deaf to the terminal's Ctrl-C until it can deal with it."""
    context = get_context("spawn")
    ours, said = context.Pipe(duplex=False)
    told, tell = context.Pipe(duplex=False)
    process = context.Process(target=run, args=(said, told, asked.work, asked.task), daemon=False)
    try:
        with deaf_while_starting():
            process.start()
    except BaseException:
        ours.close()
        tell.close()
        raise
    finally:
        said.close()
        told.close()
    return _Worker(process, ours, tell)


def _see_off(worker: _Worker) -> None:
    """It has said its last word."""
    worker.process.join(PATIENCE)
    if worker.process.is_alive():
        worker.process.kill()
        worker.process.join()
    worker.said.close()
    worker.tell.close()


def _clear(job: Job) -> None:
    if job.outcome.passing is not None:
        _remove([job.outcome.passing])


def _remove(places: Iterable[Path]) -> None:
    """Files, and folders with all that is in them. One that is held open (Windows) is left."""
    for place in places:
        if place.is_dir():
            shutil.rmtree(place, ignore_errors=True)
        else:
            with suppress(OSError):
                place.unlink(missing_ok=True)
