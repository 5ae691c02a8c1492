"""What pages are told of jobs: as JSON, and as server-sent events (HTML Living Standard, 9.2).

Public: `JobReport`, `report`, `events`.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import suppress
from typing import Any

from pydantic import BaseModel

from reedwright.web.jobs.keeping import Jobs
from reedwright.web.jobs.model import Job

BEAT = 10.0  # seconds after which something is said, so that a lost connection is noticed
PACE = 0.1  # seconds between two tellings at least: eyes need no more
AGAIN = 1000  # milliseconds after which a browser whose connection was cut asks again


class JobReport(BaseModel):
    """As `Job.report` has it."""

    name: str
    kind: str
    title: str
    page: str
    standing: str
    share: float
    doing: str
    message: str
    facts: dict[str, Any]
    files: list[str]
    has_folder: bool
    notices: list[str]
    go: str
    version: int


def report(job: Job, local: bool) -> dict[str, Any]:
    """For a page. `local`: its reader sits at this machine, so that a folder can be opened."""
    said = job.report()
    return said | {"has_folder": bool(said["has_folder"]) and local}


async def events(
    jobs: Jobs, wanted: Callable[[], Sequence[Job]], local: bool, last_id: str = ""
) -> AsyncIterator[str]:
    """`event: job` with a report at once and at every change, then `event: over` and the end when
    all of the wanted jobs are over, or the server ends.

    `last_id`: the id of the last event that the browser has; only what changed since is told.
    """
    loop = asyncio.get_running_loop()
    changed = asyncio.Event()

    def listener() -> None:
        with suppress(RuntimeError):  # the loop has ended
            loop.call_soon_threadsafe(changed.set)

    seen = _moment(jobs, last_id)
    yield f"retry: {AGAIN}\n\n"
    with jobs.listening(listener):
        while True:
            changed.clear()
            now = wanted()
            for job in sorted(now, key=lambda job: job.moment):
                if job.moment > seen:
                    seen = job.moment
                    data = json.dumps(report(job, local))
                    yield f"event: job\nid: {jobs.life}-{seen}\ndata: {data}\n\n"
            if all(job.over for job in now) or jobs.closed:
                yield "event: over\ndata: {}\n\n"
                return
            try:
                await asyncio.wait_for(changed.wait(), BEAT)
                await asyncio.sleep(PACE)
            except TimeoutError:
                yield ": still here\n\n"


def _moment(jobs: Jobs, last_id: str) -> int:
    """That of an id of ours; -1, before all of them, for one of another life of the server."""
    life, _, moment = last_id.partition("-")
    return int(moment) if life == jobs.life and moment.isdecimal() and len(moment) < 18 else -1
