"""Jobs over the web: the list, one job, progress as server-sent events, stopping, what was made.

Public: `router`.
"""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated, Any

from fastapi import APIRouter, Header, Query, Request
from fastapi.responses import FileResponse, HTMLResponse, StreamingResponse
from pydantic import BaseModel
from starlette.exceptions import HTTPException

from reedwright.web.desk import AtDesk
from reedwright.web.jobs.folders import open_folder
from reedwright.web.jobs.model import Job, NoSuchJob
from reedwright.web.jobs.told import JobReport, events, report
from reedwright.web.templating import page

router = APIRouter(prefix="/jobs", tags=["jobs"])

MOST_WATCHED = 200  # jobs in one stream
TO_LOOK_AT = (".pdf", ".txt", ".mp3", ".wav", ".png")  # in the browser itself; none of them runs

Names = Annotated[list[Annotated[str, Query(max_length=40)]], Query(max_length=MOST_WATCHED)]
LastId = Annotated[str, Header(max_length=40)]


class JobList(BaseModel):
    jobs: list[JobReport]


@router.get("", response_class=HTMLResponse)
def jobs(request: Request, desk: AtDesk) -> HTMLResponse:
    return page(request, "jobs/list.html", title="Work in hand", here="jobs", jobs=desk.jobs.all())


@router.get("/reports", response_model=JobList)
def reports(
    desk: AtDesk,
    kind: Annotated[str, Query(max_length=40)] = "",
    of: Annotated[str, Query(max_length=200)] = "",
) -> dict[str, Any]:
    """The newest first; of one kind, or begun on the page `of`, where that is said."""
    return {"jobs": [report(job, desk.settings.local) for job in desk.jobs.all(kind, of)]}


@router.get("/events", response_class=StreamingResponse)
def events_of_many(desk: AtDesk, name: Names, last_event_id: LastId = "") -> StreamingResponse:
    """One stream for all the jobs of a page: browsers allow few connections to one server."""

    def wanted() -> list[Job]:
        found = []
        for each in name:
            with suppress(NoSuchJob):
                found.append(desk.jobs.job(each))
        return found

    return _stream(desk, wanted, last_event_id)


@router.post("/clear", response_model=JobList)
def clear(desk: AtDesk) -> dict[str, Any]:
    """Leave out of the list what is over; what was made stays."""
    for job in desk.jobs.all():
        if job.over:
            with suppress(NoSuchJob):
                desk.jobs.forget(job.name)
    return reports(desk)


@router.get("/{name}", response_model=JobReport)
def job(name: str, desk: AtDesk) -> dict[str, Any]:
    return report(desk.jobs.job(name), desk.settings.local)


@router.post("/{name}/stop", response_model=JobReport)
def stop(name: str, desk: AtDesk) -> dict[str, Any]:
    return report(desk.jobs.stop(name), desk.settings.local)


@router.post("/{name}/open", response_model=JobReport)
def open_its_folder(name: str, desk: AtDesk) -> dict[str, Any]:
    """Show the folder of what was made in this machine's file manager."""
    found = desk.jobs.job(name)
    if not desk.settings.local:
        raise HTTPException(403, "Folders open only where Reedwright serves its own machine.")
    if found.outcome.folder is None:
        raise HTTPException(404)
    open_folder(found.outcome.folder)
    return report(found, True)


@router.get("/{name}/events", response_class=StreamingResponse)
def events_of_one(name: str, desk: AtDesk, last_event_id: LastId = "") -> StreamingResponse:
    desk.jobs.job(name)
    return events_of_many(desk, [name], last_event_id)


def _stream(desk: AtDesk, wanted: Any, last_id: str) -> StreamingResponse:
    return StreamingResponse(
        events(desk.jobs, wanted, desk.settings.local, last_id),
        media_type="text/event-stream",
        headers={"cache-control": "no-store"},
    )


@router.get("/{name}/files/{file}", response_class=FileResponse)
def file(name: str, file: str, desk: AtDesk, look: bool = False) -> FileResponse:
    """A file that the job made, by the name that it gave it; names alone are looked up.

    `look`: to be seen or heard in the browser, where it is of a kind that can be.
    """
    made = desk.jobs.job(name).outcome.files
    if file not in made or not made[file].is_file():
        raise HTTPException(404)
    way = "inline" if look and file.lower().endswith(TO_LOOK_AT) else "attachment"
    return FileResponse(made[file], filename=file, content_disposition_type=way)
