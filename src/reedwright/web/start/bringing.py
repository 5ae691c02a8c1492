"""Tunes brought in: files and folders as a job, pasted ABC at once, an empty tune to begin with.

Public: `router`.
"""

from __future__ import annotations

import io
import re
import secrets
from collections.abc import Sequence
from threading import Lock
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from pydantic import BaseModel, Field
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile

from reedwright.errors import ReedwrightError
from reedwright.shelf.facts.tunes import add_tune
from reedwright.shelf.model import NotOnShelf
from reedwright.web.desk import AtDesk, Desk
from reedwright.web.start.empty import empty_tune
from reedwright.web.start.taking_in import TakingIn, take_in
from reedwright.web.start.uploads import MOST_FILES, Sent, cleared, laid_down, left_behind
from reedwright.web.templating import page

router = APIRouter(tags=["start"])

KIND = "taking in"
PASTED = "what was pasted"
LONGEST_PASTE = 1_500_000  # letters, within what a body may be
AT_ONCE = 60_000  # letters that are read in about a second; more is a job

_beginning = Lock()
"""What is sent lies under the same name as the same file sent before, so one import ends before
the next one begins."""


class OneAtATime(ReedwrightError):
    """Tunes are being taken in already."""


class Paste(BaseModel):
    text: str = Field(max_length=LONGEST_PASTE)


class Taken(BaseModel):
    """`go`: the page to look at; `facts` as on the page of what was brought in."""

    go: str
    facts: dict[str, Any] = {}


@router.post(
    "/import",
    response_model=Taken,
    responses={303: {"description": "To the page."}},
    openapi_extra={
        "requestBody": {
            "content": {
                "multipart/form-data": {
                    "schema": {
                        "type": "object",
                        "properties": {
                            "files": {
                                "type": "array",
                                "items": {"type": "string", "format": "binary"},
                            },
                            "update": {"type": "string"},
                        },
                    }
                }
            }
        }
    },
)
async def import_files(request: Request, desk: AtDesk) -> Response:
    """Files as a form sends them: `files`, as many as are wanted; `update` for taking over tunes
    that stand otherwise in their files now."""
    async with request.form(max_files=MOST_FILES + 1, max_fields=20) as form:
        sent = [
            Sent(each.filename, each.file)
            for each in form.getlist("files")
            if isinstance(each, UploadFile) and each.filename
        ]
        update = bool(form.get("update"))
        go = await run_in_threadpool(_begun, desk, sent, update)
    if "application/json" in request.headers.get("accept", ""):
        return JSONResponse({"go": go, "facts": {}})
    return RedirectResponse(go, 303)


def _begun(desk: Desk, sent: Sequence[Sent], update: bool) -> str:
    if not sent:
        raise ReedwrightError("No file was chosen. Choose one, or drop some on the page.")
    what = _short(sent[0].name) if len(sent) == 1 else f"{len(sent):,} files"
    with _beginning:
        if any(not job.over for job in desk.jobs.all(kind=KIND)):
            raise OneAtATime("Tunes are being added already. Wait until that is done.")
        cleared(left_behind(desk.settings.shelf))
        names = laid_down(desk.settings.shelf, sent)
        if not names:
            raise ReedwrightError(
                "There are no files of ABC, MusicXML or MIDI in that folder, and no zips of them."
            )
        go = f"/brought-in?key={secrets.token_urlsafe(9)}"
        task = TakingIn(desk.settings.shelf, names, update, go)
        try:
            desk.jobs.begin(KIND, f"Adding {what}", go, take_in, task)
        except ReedwrightError:
            cleared(names)
            raise
    return go


def _short(name: str) -> str:
    """A file's name for a heading: short, without its folders."""
    return name.replace("\\", "/").rsplit("/", 1)[-1][:80]


@router.get("/brought-in", response_class=HTMLResponse)
def brought_in(
    request: Request, desk: AtDesk, key: Annotated[str, Query(max_length=100)] = ""
) -> HTMLResponse:
    """What came of it; while it goes on, how far it is. Without a key: of the last one."""
    jobs = desk.jobs.all(kind=KIND)
    job = next((job for job in jobs if not key or job.page == f"/brought-in?key={key}"), None)
    if job is None and key:
        raise NotOnShelf(
            "What became of that is no longer known, as Reedwright was started anew since. What "
            "was added is on the shelf."
        )
    if job is None:
        return page(request, "start/nothing_brought.html", title="Nothing was added yet")
    return page(request, "start/brought_in.html", title=job.title, job=job, facts=job.outcome.facts)


@router.post("/paste", response_model=Taken)
def paste(sent: Paste, desk: AtDesk) -> dict[str, Any]:
    """ABC as it was pasted: what can be read comes in, and what can't is told with its place."""
    if not sent.text.strip():
        raise ReedwrightError("Nothing is pasted yet. ABC begins with a line such as X:1.")
    content = sent.text.replace("\r\n", "\n").encode("utf-8", "replace")
    apart = f"{PASTED} {secrets.token_hex(4)}"
    if len(content) > AT_ONCE:
        sending = [Sent(f"{apart}.abc", io.BytesIO(content))]
        return {"go": _begun(desk, sending, False), "facts": {}}
    # A tune without a title is called as its file is.
    sending = [Sent(f"{apart}/untitled.abc", io.BytesIO(content))]
    names = laid_down(desk.settings.shelf, sending)
    shown = dict.fromkeys(names, PASTED)
    task = TakingIn(desk.settings.shelf, shown, workers=1, keep_report=False)
    facts = dict(take_in(task, lambda share, doing: None).facts)
    go = ""
    if facts["added"] == 1 and not facts["refused"]:
        go = f"/tunes/{facts['tunes'][0]['id']}"
    title = re.search(r"^T:\s*(.*)$", sent.text, re.MULTILINE)
    facts["first_title"] = title[1].strip()[:200] if title else ""
    return {"go": go, "facts": facts}


@router.post("/new-tune", response_class=RedirectResponse, status_code=303)
def new_tune(
    desk: AtDesk,
    title: Annotated[str, Form(max_length=200)] = "",
    type: Annotated[str, Form(max_length=60)] = "",
    key: Annotated[str, Form(max_length=20)] = "",
    metre: Annotated[str, Form(max_length=10)] = "",
) -> RedirectResponse:
    """An empty tune on the shelf, and to its page."""
    tune = empty_tune(title, type, key, metre)
    with desk.shelf() as shelf:
        item = add_tune(shelf, tune, said="begun")
    return RedirectResponse(f"/tunes/{item.id}", 303)
