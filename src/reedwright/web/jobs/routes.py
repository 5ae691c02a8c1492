"""Jobs over the web: the list, one job, its progress as server-sent events, stopping.

Public: `router`.
"""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse, HTMLResponse, StreamingResponse
from starlette.exceptions import HTTPException

from reedwright.web.desk import AtDesk
from reedwright.web.templating import page

router = APIRouter(prefix="/jobs", tags=["jobs"])

_BEAT = 10.0  # seconds after which something is said, so that a lost connection is noticed


@router.get("", response_class=HTMLResponse)
def jobs(request: Request, desk: AtDesk) -> HTMLResponse:
    return page(request, "jobs/list.html", title="Work in hand", here="jobs", jobs=desk.jobs.all())


@router.get("/{name}")
def job(name: str, desk: AtDesk) -> dict[str, Any]:
    return desk.jobs.job(name).report()


@router.post("/{name}/stop")
def stop(name: str, desk: AtDesk) -> dict[str, Any]:
    return desk.jobs.stop(name).report()


@router.get("/{name}/events", response_class=StreamingResponse)
def events(name: str, desk: AtDesk) -> StreamingResponse:
    """`event: job` with the job's report as JSON, at once and at every change, until it is over."""
    desk.jobs.job(name)

    async def told() -> AsyncIterator[str]:
        seen = -1
        while True:
            now = await asyncio.to_thread(desk.jobs.wait, name, seen, _BEAT)
            if now.version == seen:
                yield ": still here\n\n"
                continue
            seen = now.version
            yield f"event: job\nid: {seen}\ndata: {json.dumps(now.report())}\n\n"
            if now.over:
                return

    return StreamingResponse(told(), media_type="text/event-stream")


@router.get("/{name}/files/{file}", response_class=FileResponse)
def file(name: str, file: str, desk: AtDesk) -> FileResponse:
    """A file that the job made, by the name that it gave it; names alone are looked up."""
    made = desk.jobs.job(name).outcome.files
    if file not in made or not made[file].is_file():
        raise HTTPException(404)
    return FileResponse(made[file], filename=file)
