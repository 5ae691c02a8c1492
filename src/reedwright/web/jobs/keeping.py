"""All jobs of a running server: begun, watched, stopped.

Public: `Jobs`.
"""

from __future__ import annotations

import contextlib
import os
import secrets
import signal
import threading
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime
from multiprocessing import get_context
from multiprocessing.context import SpawnProcess
from typing import Any

from reedwright.web.jobs.model import Job, NoSuchJob, Outcome, Standing, TooManyJobs, Work
from reedwright.web.jobs.process import run

PATIENCE = 10.0  # seconds that a job has to clear up after being told to stop
KEPT = 100  # jobs that are over and still known


class Jobs:
    """Jobs by name. Safe to use from several threads; jobs beyond `at_once` wait their turn."""

    def __init__(self, at_once: int, most_waiting: int) -> None:
        self._at_once = threading.Semaphore(at_once)
        self._most = at_once + most_waiting
        self._jobs: dict[str, Job] = {}
        self._processes: dict[str, SpawnProcess] = {}
        self._changed = threading.Condition()

    def begin(self, kind: str, title: str, page: str, work: Work, task: Any) -> Job:
        """Have work done. Raises `TooManyJobs`."""
        with self._changed:
            unfinished = sum(not job.over for job in self._jobs.values())
            if unfinished >= self._most:
                raise TooManyJobs(
                    f"{unfinished} jobs are at work or waiting. Wait until one has ended, or stop "
                    "one."
                )
            job = Job(secrets.token_urlsafe(9), kind, title, page, datetime.now(UTC))
            self._jobs[job.name] = job
            for name in [name for name, each in self._jobs.items() if each.over][:-KEPT]:
                del self._jobs[name]
            self._changed.notify_all()
        threading.Thread(target=self._look_after, args=(job.name, work, task), daemon=True).start()
        return job

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

    def wait(self, name: str, seen: int, seconds: float) -> Job:
        """The job once it has another version than the one seen, or after so many seconds."""
        with self._changed:
            self._changed.wait_for(
                lambda: name not in self._jobs or self._jobs[name].version != seen, seconds
            )
        return self.job(name)

    def stop(self, name: str) -> Job:
        """Have a job stop as by Ctrl-C: it leaves nothing half made."""
        self.job(name)
        with self._changed:
            process = self._processes.get(name)
            if process is None:
                if not self._jobs[name].over:
                    self._change(name, standing=Standing.STOPPED, doing="")
                return self._jobs[name]
        if process.pid is not None:
            with contextlib.suppress(ProcessLookupError):
                os.kill(process.pid, signal.SIGINT)
        threading.Thread(target=self._see_off, args=(process,), daemon=True).start()
        return self.job(name)

    def close(self) -> None:
        """Stop everything, as the server ends."""
        for job in self.all():
            if not job.over:
                self.stop(job.name)
        for process in list(self._processes.values()):
            self._see_off(process)

    def _see_off(self, process: SpawnProcess) -> None:
        process.join(PATIENCE)
        if process.is_alive():
            process.kill()

    def _look_after(self, name: str, work: Work, task: Any) -> None:
        with self._at_once:
            if self.job(name).over:  # stopped while it waited
                return
            context = get_context("spawn")
            ours, theirs = context.Pipe(duplex=False)
            process = context.Process(target=run, args=(theirs, work, task), daemon=False)
            process.start()
            theirs.close()
            with self._changed:
                self._processes[name] = process
                self._change(name, standing=Standing.WORKING)
            try:
                while not self.job(name).over:
                    self._hear(name, ours.recv())
            except EOFError:
                self._ended(name)
            finally:
                ours.close()
                process.join()
                with self._changed:
                    del self._processes[name]

    def _hear(self, name: str, said: tuple[Any, ...]) -> None:
        with self._changed:
            match said:
                case ("progress", float() | int() as share, str(doing)):
                    self._change(name, share=float(share), doing=doing)
                case ("done", Outcome() as outcome):
                    self._change(name, standing=Standing.DONE, share=1.0, doing="", outcome=outcome)
                case ("stopped",):
                    self._change(name, standing=Standing.STOPPED, doing="")
                case ("failed", str(message)):
                    self._change(name, standing=Standing.FAILED, doing="", message=message)

    def _ended(self, name: str) -> None:
        """Its process has gone without a word."""
        with self._changed:
            if not self._jobs[name].over:
                self._change(
                    name,
                    standing=Standing.FAILED,
                    doing="",
                    message="The work ended unexpectedly; perhaps there was too little memory.",
                )

    def _change(self, name: str, **changes: Any) -> None:
        """While `_changed` is held."""
        job = self._jobs[name]
        self._jobs[name] = replace(job, version=job.version + 1, **changes)
        self._changed.notify_all()
